#!/usr/bin/env python
"""Django's commands for Recount."""

import sys

from config.entry import prepare


def main() -> None:
    """Run the command; the embedded database is started first for those that need one."""
    prepare(sys.argv[1] if len(sys.argv) > 1 else "help")
    from django.core.management import execute_from_command_line

    from apiaries.second_lock import reader_is_the_service
    from config.work_signals import noted

    reader_is_the_service()  # a command is the program itself; a request, also of runserver, begins as nobody's
    with noted(sys.argv[1:]):
        execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
