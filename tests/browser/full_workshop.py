"""
Fill a data folder with a workshop full of life: the demo's first months, which take seconds.

Run as a program, with the folder as its one argument: it sets up a Django of its own.
"""

import os
import sys

DAYS = 240


def main(folder: str) -> None:
    os.environ["POURWRIGHT_DATA"] = folder
    os.environ["DJANGO_SETTINGS_MODULE"] = "pourwright.workshop.settings"
    import django

    django.setup()
    from django.core.management import call_command

    from pourwright.workshop import demo
    from pourwright.workshop.demo import life

    life.DAYS = DAYS
    call_command("migrate", verbosity=0)
    demo.build()


if __name__ == "__main__":
    main(sys.argv[1])
