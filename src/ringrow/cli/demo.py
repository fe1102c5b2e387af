"""Placeholder."""
import click

@click.command()
def demo() -> None:
    """Not yet."""
