"""Firmware for the tests: boards written as C, and small ones by hand, compiled once each."""

from __future__ import annotations

import subprocess
from pathlib import Path

from boardgauge.exports.c99.writing import write_c
from boardgauge.language.model import Board
from boardgauge.rigs.library import HEADER, interface_header
from exports.compiled_boards import COMPILERS, STRICT


def build(folder: Path, files: dict[str, str], name: str = "firmware.so") -> Path:
    """Compile C files, with the interface's header beside them, to a shared library."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / HEADER).write_text(interface_header(), encoding="utf-8")
    for file, text in files.items():
        (folder / file).write_text(text, encoding="utf-8")
    sources = [str(folder / file) for file in files if file.endswith(".c")]
    command = [COMPILERS[0], *STRICT, "-O1", "-shared", "-fPIC", "-o", str(folder / name), *sources, "-lm"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    return folder / name


def exported(board: Board, folder: Path) -> Path:
    """Give the firmware that a board's export makes, filters and all."""
    return build(folder, write_c(board, for_rig=True))


def by_hand(folder: Path, run: str = "return until;", more: str = "", version: str = "BOARDGAUGE_FIRMWARE") -> Path:
    """Give a firmware of a few lines, for a board with the input in1 and the output q: q follows in1 at once."""
    text = f"""
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "boardgauge_firmware.h"
static int supply, in, q;
static uint64_t now;
{more}
int boardgauge_start(void) {{ supply = in = q = 0; now = 0; return {version}; }}
int boardgauge_input(const char *name, double level) {{
    if (strcmp(name, "power") == 0) supply = level > 0.5;
    else if (strcmp(name, "in1") == 0) in = level > 0.5;
    else return -1;
    q = supply && in;
    return 0;
}}
uint64_t boardgauge_run(uint64_t until) {{ (void)now; {run} }}
int boardgauge_output(const char *name) {{ return strcmp(name, "q") == 0 ? q : -1; }}
"""
    return build(folder, {"by_hand.c": text})
