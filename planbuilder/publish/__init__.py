"""publish"""
