"""`python -m backing`."""

from backing.cli import main

if __name__ == "__main__":
    main()
