"""``python -m feedwright``: the commands."""

from feedwright.cli.main import main

if __name__ == "__main__":
    main()
