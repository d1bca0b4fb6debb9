"""Checks of the trade functions against published tables and independent libraries."""
