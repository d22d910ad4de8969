"""Wear readings -> wear curves and rates."""
