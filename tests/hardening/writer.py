"""A program that saves in a loop and reports each saving once the call has returned.

It is started, killed and starved of disk by its neighbours; what it reports is one JSON list a
line: kind, name, number and checksum of what is kept, or ``refused`` with the sentence.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import time
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from balancer.errors import BalancerError, ChangedMeanwhile
from balancer.store import Store

SHARED = "shared by all"
#: Letters in a document: small notes and whole recipes.
SIZES = (10, 400, 3000, 20_000)


def checksum(document: Mapping[str, Any]) -> int:
    """A number that is the same for equal documents only."""
    return zlib.crc32(json.dumps(document, sort_keys=True).encode())


def report(*values: object) -> None:
    """Write one line at once; it is whole or not there."""
    os.write(1, (json.dumps(values) + "\n").encode())


class Writer:
    """Saves of every kind, chosen at random, under names that begin with a mark."""

    def __init__(self, store: Store, mark: str, seed: int) -> None:
        self.store, self.mark, self.rng = store, mark, random.Random(f"{mark} {seed}")
        self.number = 0

    def document(self) -> dict[str, Any]:
        self.number += 1
        text = "".join(self.rng.choices("plum dip \u8fa3", k=self.rng.choice(SIZES)))
        return {"by": self.mark, "n": self.number, "text": text}

    def new_recipe(self) -> None:
        document = self.document()
        saved = self.store.save_recipe(f"{self.mark} {self.number}", document)
        report("recipe", saved.name, saved.revision, checksum(document))

    def revise(self) -> None:
        document = self.document()
        saved = self.store.save_recipe(f"{self.mark} again", document, replace=True)
        report("recipe", saved.name, saved.revision, checksum(document))

    def profile(self) -> None:
        levels = {"sweet": self.rng.random(), "sour": float(self.number)}
        saved = self.store.save_profile(f"{self.mark} levels", levels, "as tasted", replace=True)
        report("profile", saved.name, saved.revision, checksum(levels))

    def ingredient(self) -> None:
        document = self.document()
        saved = self.store.save_ingredient(f"{self.mark} lot", document, replace=True)
        report("ingredient", saved.name, saved.revision, checksum(document))

    def round(self) -> None:
        document = self.document()
        saved = self.store.save_round(SHARED, document)
        report("round", saved.recipe, saved.number, checksum(document))

    def on_top(self) -> None:
        """Open what all share and save on top of it, again when another was faster."""
        while True:
            seen = self.store.recipe(SHARED).revision
            document = self.document() | {"on": seen}
            try:
                saved = self.store.save_recipe(SHARED, document, expected_revision=seen)
            except ChangedMeanwhile:
                report("changed meanwhile")
                continue
            report("recipe", saved.name, saved.revision, checksum(document))
            return


def main() -> None:
    """Save until the time is over, or for ever."""
    parser = argparse.ArgumentParser()
    parser.add_argument("book", type=Path)
    parser.add_argument("mark")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=1e9)
    parser.add_argument("--savings", type=int, default=10**9, help="stop after so many")
    parser.add_argument("--refusals", type=int, default=10**9, help="stop after so many")
    parser.add_argument("--largest-file", type=int, help="quota of one file [bytes]")
    parser.add_argument("--as-user", type=int, help="lay down the rights of the superuser")
    parser.add_argument("--pause", type=float, default=0.0, help="after each saving [s]")
    given = parser.parse_args()
    if given.largest_file is not None:
        import resource

        hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
        resource.setrlimit(resource.RLIMIT_FSIZE, (given.largest_file, hard))
    if given.as_user is not None:
        import difflib  # noqa: F401 - the other user may not be let into the folder of the library

        os.seteuid(given.as_user)
    writer = Writer(Store(given.book), given.mark, given.seed)
    acts = [writer.new_recipe, writer.revise, writer.profile, writer.ingredient]
    acts += [writer.round, writer.on_top]
    end = time.monotonic() + given.seconds
    report("ready")
    saved = refused = 0
    while time.monotonic() < end and saved < given.savings and refused < given.refusals:
        try:
            writer.rng.choice(acts)()
            saved += 1
        except BalancerError as error:
            report("refused", type(error).__name__, str(error))
            refused += 1
            time.sleep(0.01)
        time.sleep(given.pause)


if __name__ == "__main__":
    main()
