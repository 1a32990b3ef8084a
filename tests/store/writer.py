"""A process that writes and says so: started by the crash tests, and killed by them.

Arguments: the place of the store, the field to write, how many times. After each save that was acknowledged it prints
the number on a line of its own.
"""

from __future__ import annotations

import sys

from vibdiag.case.model import Case
from vibdiag.store.face import Signature, StoreError, Version
from vibdiag.store.store import CaseStore, open_store


def begin(store: CaseStore, signature: Signature) -> Version:
    """The case, made by whichever process comes first."""
    if not store.revision("invented"):
        try:
            return store.create(Case(vibdiag_case=1, id="invented", invented=True), signature)
        except StoreError:
            pass  # Another writer was quicker, which is what the test wants.
    return store.read("invented")


def main() -> None:
    place, field, times = sys.argv[1], sys.argv[2], int(sys.argv[3])
    signature = Signature(field, "writer")
    with open_store(place) as store:
        version = begin(store, signature)
        told = getattr(version.case, field)
        start = int(told.split()[0]) if told else 0
        for number in range(start + 1, start + times + 1):
            # The number at both ends of a text that fills several pages, so that half of one would be seen.
            case = version.case.model_copy(update={field: f"{number} {'shake ' * 80}{number}"})
            version = store.save(case, version, signature).version
            sys.stdout.write(f"{number}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
