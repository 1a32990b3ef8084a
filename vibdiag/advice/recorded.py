"""What road-test recordings say of the signs, beside what was asked, looked at and measured.

A recorded sign is a noisy report: it weighs by the trust it was given when the recording was read. It never beats a
measured result for the same sign; of anything else the surer one is used. Where a strong one contradicts what is
known, that is said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from vibdiag.case.model import Case, RecordedSign, StepResult
from vibdiag.files.errors import InputError
from vibdiag.knowledge.base import RuleBase
from vibdiag.reasoning.belief import Evidence

__all__ = ["Recorded", "weigh_recorded"]

_STRONG = 0.7  # from here on a contradiction is worth asking about (common practice)


@dataclass(frozen=True)
class Recorded:
    """All evidence, in the rule base's order of signs; because: by sign, of what recordings gave; conflicts: sentence
    by sign."""

    evidence: tuple[Evidence, ...]
    because: Mapping[str, str]
    conflicts: Mapping[str, str]


def weigh_recorded(
    case: Case, base: RuleBase, evidence: Sequence[Evidence], results: Mapping[str, StepResult]
) -> Recorded:
    """Put the signs of recordings made before the repair beside the other evidence.

    results: the step result used for each sign. Raises InputError for a sign or word the rule base does not have.
    """
    weighed = {each.sign: each for each in evidence}
    because: dict[str, str] = {}
    conflicts: dict[str, str] = {}
    for sign, said in _by_sign(case, base).items():
        surest = max(said, key=lambda each: each.trust)
        name = base.signs[sign].name
        against = next((each for each in said if each.word != surest.word and each.trust >= _STRONG), None)
        if against is not None:
            conflicts[sign] = (
                f"{name}: one recording says {surest.word}, another {against.word}; the surer one is used."
            )
        known = weighed.get(sign)
        if known is not None and known.word != surest.word and surest.trust >= _STRONG:
            conflicts[sign] = f"{name}: a recording says {surest.word}, but {known.word} is what else is known."
        result = results.get(sign)
        measured = result is not None and result.how == "measured"
        if measured or (known is not None and known.trust >= surest.trust):
            continue
        weighed[sign] = Evidence(sign, surest.word, surest.trust)
        because[sign] = f"A recording: {surest.because}" if surest.because else "Read from a recording."
    return Recorded(tuple(weighed[sign] for sign in base.signs if sign in weighed), because, conflicts)


def _by_sign(case: Case, base: RuleBase) -> dict[str, list[RecordedSign]]:
    found: dict[str, list[RecordedSign]] = {}
    for number, attachment in enumerate(case.attachments):
        for index, each in enumerate(attachment.signs):
            where = f"attachments.{number}.signs.{index}"
            sign = base.signs.get(each.sign)
            if sign is None:
                raise InputError(f"there is no sign '{each.sign}' in the rule base", field=f"{where}.sign")
            if each.word not in sign.words:
                raise InputError(
                    f"'{each.word}' is no word of '{each.sign}'; it can be {', '.join(sign.words)}",
                    field=f"{where}.word",
                )
            if attachment.taken != "after" and each.trust > 0.0:
                found.setdefault(each.sign, []).append(each)
    return found
