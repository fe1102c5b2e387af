"""What comes in: farm files, vector files, the season log."""
