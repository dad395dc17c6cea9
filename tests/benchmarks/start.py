"""How long a process takes until it can answer, how much memory it has then, and whether it has loaded what is slow."""

import os
import resource
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

SLOW = ("CoolProp", "weasyprint", "openpyxl", "pypdfium2", "pillow_heif")


def main(folder: str) -> None:
    """Load the application, ask one page, and print what that took."""
    os.environ["DATABASE_URL"] = f"sqlite:///{folder}/empty.sqlite3"
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    os.environ.setdefault("SECRET_KEY", "of a benchmark")
    begun = time.process_time()
    from shop.wsgi import application  # noqa: F401 - loaded, as a server loads it

    print(f"application loaded: {time.process_time() - begun:.2f} s")
    from django.core.management import call_command
    from django.test import Client

    call_command("migrate", verbosity=0)
    begun = time.process_time()
    Client(headers={"host": "localhost"}).get("/sign-in/")
    print(f"its first page: {time.process_time() - begun:.2f} s")
    print(f"memory of the process then: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    print(f"loaded of what is slow to load: {', '.join(name for name in SLOW if name in sys.modules) or 'nothing'}")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as own:
        main(own)
