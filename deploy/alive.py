"""Whether the pages answer, asked from beside them by the name under which they are reached; with "watch", whether the watch looks."""

import os
import sys
import urllib.request


def pages() -> None:
    """Ends well only where the pages answer."""
    host = os.environ.get("HOURMARK_HOSTS", "localhost").split(",")[0].strip()
    asked = urllib.request.Request("http://127.0.0.1:8000/livez", headers={"Host": host, "X-Forwarded-Proto": "https"})
    urllib.request.urlopen(asked, timeout=4)


def watch() -> None:
    """Ends well only where the watch over silence has looked lately."""
    from hourmark.store.setup import ready
    from hourmark.web import SETTINGS_MODULE

    ready(SETTINGS_MODULE)
    from hourmark.web.pages.health import watched

    if not watched():
        sys.exit("The watch has not looked in the last two minutes.")


if __name__ == "__main__":
    watch() if sys.argv[1:] == ["watch"] else pages()
