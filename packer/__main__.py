"""Run the command line as ``python -m packer``."""

from __future__ import annotations

from packer.cli import main

if __name__ == "__main__":
    main()
