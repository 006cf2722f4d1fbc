"""Write the files of the demo tour into a folder: `python -m tourstats.demo FOLDER`."""

import argparse
from pathlib import Path

from tourstats.demo.typed import write_files

if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m tourstats.demo", description="Write the demo tour as files.")
    parser.add_argument("folder", type=Path)
    write_files(parser.parse_args().folder)
