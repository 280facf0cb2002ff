"""`python -m advisor` is the command `advisor`."""

from advisor.cli.main import main

if __name__ == "__main__":
    main(prog_name="advisor")
