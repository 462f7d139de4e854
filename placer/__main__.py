"""``python -m placer``: the same as the command ``placer``."""

from placer.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
