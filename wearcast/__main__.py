"""`python -m wearcast`."""

from wearcast.cli.start import run

if __name__ == "__main__":
    run()
