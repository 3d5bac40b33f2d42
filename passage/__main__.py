"""``python -m passage``: the command line."""

from passage.cli.main import main

if __name__ == "__main__":
    main()
