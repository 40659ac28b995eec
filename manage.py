#!/usr/bin/env python
"""Django's commands for Recount."""

import sys

from config.entry import prepare


def main() -> None:
    """Run the command; the embedded database is started first for those that need one."""
    prepare(sys.argv[1] if len(sys.argv) > 1 else "help")
    from django.core.management import execute_from_command_line

    from config.work_signals import noted

    with noted(sys.argv[1:]):
        execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
