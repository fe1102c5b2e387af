"""The history in pictures: charts and tables as one page or one PDF."""
