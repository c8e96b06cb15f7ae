"""`python -m prioritylogic`: the command line."""

from prioritylogic.cli.main import main

if __name__ == "__main__":
    main()
