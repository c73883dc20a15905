"""rehearse"""
