"""``python -m vrx`` is the command line."""

from vrx.cli.main import run

if __name__ == "__main__":
    run()
