"""The text of a PDF from elsewhere, read by a process that may take so much and no more: the file in, its text out."""

import io
import resource
import sys

PAGES_READ = 3  # at either end of a file: the code stands on every page
MOST_BYTES = 1_000_000_000
MOST_S = 5


def main() -> None:
    """Read a PDF from the standard input; end with 1 where it cannot be read."""
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_S, MOST_S))
    from pypdf import PdfReader

    try:
        pages = PdfReader(io.BytesIO(sys.stdin.buffer.read())).pages
        count = len(pages)
        wanted = sorted({*range(min(PAGES_READ, count)), *range(max(count - PAGES_READ, 0), count)})
        text = "\n".join(pages[at].extract_text() for at in wanted)
    except Exception:  # noqa: BLE001 - a stranger's file may break the reader in any way
        sys.exit(1)
    sys.stdout.buffer.write(text.encode(errors="replace"))


if __name__ == "__main__":
    main()
