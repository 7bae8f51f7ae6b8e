"""What ``verify`` is tried with: untouched folders of all kinds of rail, and corruptions of them, by number."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

from corruptions import (
    Meant,
    added_file,
    bend_line,
    broken_byte,
    change_serial,
    drop,
    dstv_line,
    duplicate,
    edge_vertex,
    flip,
    layer_file,
    lost_file,
    other_tool,
    other_tool_in_table,
    redigest,
    resize,
    retag,
    shift,
    shift_all,
    swap_formed,
    swap_hands,
    swapped_row,
    table_cell,
    template,
    tool_stamp,
)
from corruptions_programs import (
    lost_program,
    press_tool,
    program_head,
    program_hit,
    program_stamp,
    program_tool,
    swap_programs,
)
from verify_folders import MORE, RAILS, random_holes, serial_folder

from railgen.records.verify import Verified, verify_folder

Corruption = Callable[[random.Random, Path], Meant]
IN_FILES: tuple[Corruption, ...] = (
    *(flip, shift, shift, shift_all, drop, duplicate, resize, retag, swap_hands, swap_formed, change_serial),
    *(bend_line, edge_vertex, dstv_line, dstv_line, other_tool, other_tool_in_table, table_cell, template),
    *(
        layer_file,
        tool_stamp,
        lost_file,
        program_hit,
        program_hit,
        program_hit,
        program_tool,
        program_tool,
        program_head,
    ),
    *(program_stamp, swap_programs, lost_program, press_tool),
)
"""Corruptions that must be found in the files themselves, though the manifest vouches for them."""


NEEDS_ALL = (
    *(swap_formed, dstv_line, other_tool, other_tool_in_table, table_cell, layer_file, tool_stamp),
    *(program_hit, program_tool, program_head, program_stamp, swap_programs, lost_program, press_tool),
)
"""Corruptions of files that a folder holds only when they are asked for."""


AGAINST_MANIFEST: tuple[Corruption, ...] = (broken_byte, broken_byte, added_file, swapped_row, shift, drop, swap_hands)

Folders = dict[tuple[str, bool], list[Path]]
"""Folders by kind of rail, and whether they hold every kind of file."""


def untouched_folders(output: Path) -> Folders:
    """Folders to be corrupted: two of each kind of rail, with and without every kind of file."""
    folders = Folders()
    for number, (name, full) in enumerate([(name, full) for name in sorted(RAILS) for full in (False, True)] * 2):
        rng = random.Random(f"folder {number}")
        version, more = "R2018" if number in (1, 2) else "R12", MORE if full else ()
        holes = random_holes(rng, bool(RAILS[name].taper))
        folders.setdefault((name, full), []).append(
            serial_folder(output, f"P-{number + 1}", name, holes, version, more)
        )
    return folders


def untouched_folder(output: Path, number: int) -> Path:
    """One of many folders that have nothing wrong with them."""
    rng = random.Random(number)
    name = rng.choice(sorted(RAILS))
    more = MORE if number % 5 == 0 else ("dstv",) if number % 5 == 1 else ()
    holes = random_holes(rng, bool(RAILS[name].taper), count=rng.choice((4, 16)))
    return serial_folder(output, f"P-{number}", name, holes, "R2018" if number % 40 == 7 else "R12", more)


def corrupted(rng: random.Random, folders: Folders, copy_to: Path, work: Corruption) -> Path:
    """A copy of one of the folders that the corruption can be done to."""
    names = [name for name in sorted(RAILS) if RAILS[name].taper or work is not template]
    original = rng.choice(folders[rng.choice(names), work in NEEDS_ALL])
    folder = copy_to / original.name
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(original, folder)
    return folder


def tried(folders: Folders, copy_to: Path, count: int, vouched: bool) -> Iterator[tuple[str, Meant, Verified]]:
    """So many corruptions, what each must be found as, and what was found.

    vouched: every digest of the manifest is made to fit, so that what is wrong must be found in the files themselves.
    """
    works = IN_FILES if vouched else AGAINST_MANIFEST
    for number in range(count):
        work = works[number % len(works)]
        rng = random.Random(f"{'in files' if vouched else 'manifest'} {number}")
        folder = corrupted(rng, folders, copy_to, work)
        meant = work(rng, folder)
        if vouched:
            redigest(folder)
        yield f"{number} {work.__name__} {folder.name}", meant, verify_folder(folder)


def told(found: Verified, meant: Meant) -> bool:
    """Whether a corruption is named for what it is, beside its file."""
    return any(one.kind in meant.kinds and one.file.startswith(meant.file) for one in found.discrepancies)
