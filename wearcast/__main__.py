"""`python -m wearcast`."""

from wearcast.cli.main import run

if __name__ == "__main__":
    run()
