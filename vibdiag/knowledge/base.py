"""The rule base in memory: signs, causes, rules and steps, with the place in the files where each stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from vibdiag.files.errors import InputError, Spot
from vibdiag.knowledge.forms import CauseFile, PairFile, RuleText, Settings, SignText, StepText
from vibdiag.reasoning.belief import BeliefModel
from vibdiag.reasoning.language import RuleSet

__all__ = ["Place", "RuleBase", "RuleBaseError"]


@dataclass(frozen=True)
class Place:
    """File and spot of one entry, for messages."""

    file: Path
    spot: Spot | None

    def error(self, message: str, field: str | None = None) -> InputError:
        return InputError(message, file=self.file, spot=self.spot, field=field)


class RuleBaseError(InputError):
    """The rule base has faults; `faults` has them all, and the message is the first."""

    def __init__(self, faults: list[InputError]) -> None:
        first = faults[0]
        self.faults = faults
        more = f" (and {len(faults) - 1} more; see `vibdiag rules check`)" if len(faults) > 1 else ""
        super().__init__(first.message + more, file=first.file, spot=first.spot, field=first.field)


@dataclass(frozen=True)
class RuleBase:
    """Everything the files say, validated against itself.

    `rule_set` is what the engine runs: besides signs it derives `exclude-<cause>`, `danger-<cause>` and
    `contradiction-<rule>`, each with the one word yes. `places` maps (kind, id) to where that entry stands.
    """

    folder: Path
    settings: Settings
    signs: Mapping[str, SignText]
    causes: Mapping[str, CauseFile]
    pairs: PairFile
    rules: Mapping[str, RuleText]
    steps: Mapping[str, StepText]
    places: Mapping[tuple[str, str], Place]
    rule_set: RuleSet
    model: BeliefModel
