"""The commands, run as python -m hourmark.cli."""

from hourmark.cli.main import main

main()
