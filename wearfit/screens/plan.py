"""dummy"""
