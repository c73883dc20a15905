"""outputs"""
