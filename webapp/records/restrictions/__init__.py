"""Temporary speed restrictions as their notices say them."""
