"""`python3 -m passport` is the same as `passport`."""

from passport.commands.main import run

if __name__ == "__main__":
    run()
