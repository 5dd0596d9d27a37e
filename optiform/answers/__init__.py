"""Answers every question: one room each, from frozen values to a frozen answer."""
