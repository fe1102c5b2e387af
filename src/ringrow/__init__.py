"""What is wet, what is dry and what is broken on an irrigated farm."""

__version__ = "0.1.0"
