"""``python -m fillwright.cli``."""

from fillwright.cli.app import main

main()
