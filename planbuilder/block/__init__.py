"""block"""
