"""Reading the rule base: every file validated, every reference followed, every fault collected with its place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from vibdiag.files.errors import InputError
from vibdiag.files.strict_yaml import Document, parse
from vibdiag.files.validate import faults_of
from vibdiag.knowledge.base import Place, RuleBase, RuleBaseError
from vibdiag.knowledge.compile import compile_rules
from vibdiag.knowledge.forms import (
    CauseFile,
    PairFile,
    Row,
    RuleFile,
    RuleText,
    Settings,
    SignFile,
    SignText,
    StepFile,
    StepText,
    TableText,
)
from vibdiag.knowledge.sentences import SentenceError, parse_conclusion
from vibdiag.knowledge.tables import belief_model
from vibdiag.reasoning.language import Name, RuleSet

__all__ = ["load_rule_base"]

Model = TypeVar("Model", bound=BaseModel)
_SUM_TOLERANCE = 1e-6


def load_rule_base(folder: Path, facts: Mapping[str, Name]) -> RuleBase:
    """Load and check the whole folder against itself and the declared `facts`.

    Raises RuleBaseError with every fault found: file, line, and the sentence that mends it.
    """
    return _Loader(folder, facts).load()


class _Loader:
    def __init__(self, folder: Path, facts: Mapping[str, Name]) -> None:
        self.folder = folder
        self.facts = facts
        self.signs: dict[str, SignText] = {}
        self.causes: dict[str, CauseFile] = {}
        self.rules: dict[str, RuleText] = {}
        self.steps: dict[str, StepText] = {}
        self.places: dict[tuple[str, str], Place] = {}
        self.faults: list[InputError] = []
        # Kinds of which a file was not readable: a reference to such an entry may be right, so it is no fault.
        self.partial: set[str] = set()

    @contextmanager
    def collecting(self) -> Iterator[None]:
        """Keep an InputError as a fault and go on with the next entry."""
        try:
            yield
        except InputError as fault:
            self.faults.append(fault)

    def load(self) -> RuleBase:
        if not self.folder.is_dir():
            raise InputError("is not a folder", file=self.folder)
        settings = self.read(Settings, self.folder / "settings.yaml")[0]
        self.read_signs()
        for path in self.files("causes"):
            with self.collecting():
                self.read_cause(path)
        pairs = self.read_pairs()
        for path in self.files("steps"):
            self.read_steps(path)
        for path in self.files("derive"):
            self.read_rules(path)
        self.check_references()
        rule_set = None if self.partial else self.compiled()
        if self.faults or settings is None or rule_set is None or pairs is None:
            raise RuleBaseError(self.faults)
        model = belief_model(self.causes.values(), self.signs.values(), pairs)
        return RuleBase(
            self.folder,
            settings,
            self.signs,
            self.causes,
            pairs,
            self.rules,
            self.steps,
            self.places,
            rule_set,
            model,
        )

    def compiled(self) -> RuleSet | None:
        """The rules as run, or None with their faults kept."""
        names = dict(self.facts) | {
            sign.id: Name(sign.id, tuple(sign.words), derived=True) for sign in self.signs.values()
        }
        try:
            return compile_rules(names, self.rules, self.causes, self.steps, self.places)
        except RuleBaseError as error:
            self.faults += error.faults
            return None

    def files(self, name: str) -> list[Path]:
        found = sorted((self.folder / name).glob("*.yaml"))
        if not found:
            self.faults.append(InputError("holds no rule file (*.yaml)", file=self.folder / name))
        return found

    def read(self, model: type[Model], path: Path) -> tuple[Model | None, Document]:
        """The file as `model`, or None with its faults kept."""
        document = Document({})
        with self.collecting():
            try:
                document = parse(path.read_bytes(), file=str(path))
                return model.model_validate(document.data), document
            except OSError as error:
                raise InputError(f"cannot be read: {error.strerror}", file=path) from error
            except ValidationError as problem:
                self.faults += faults_of(problem, model, document, file=str(path))
        return None, document

    def keep(self, kind: str, identity: str, place: Place) -> None:
        earlier = self.places.get((kind, identity))
        if earlier is not None:
            line = earlier.spot.line if earlier.spot else 1
            raise place.error(f"the {kind} '{identity}' stands already in {earlier.file.name}, line {line}")
        self.places[(kind, identity)] = place

    def read_signs(self) -> None:
        path = self.folder / "signs.yaml"
        file, document = self.read(SignFile, path)
        if file is None:
            self.partial.add("sign")
        for index, sign in enumerate(file.signs if file else []):
            place = Place(path, document.spot(("signs", index)))
            with self.collecting():
                self.keep("sign", sign.id, place)
                self.signs[sign.id] = sign
                if sign.id in self.facts:
                    raise place.error(f"'{sign.id}' is already the name of a fact; choose another")
                if len(set(sign.words)) != len(sign.words):
                    raise place.error(f"the sign '{sign.id}' has a word twice")
                _check_row(sign.background, sign, place, f"the background of '{sign.id}'")
                if sign.quiet is not None and sign.quiet not in sign.words:
                    raise place.error(f"'{sign.quiet}' is no word of '{sign.id}'", "quiet")

    def read_cause(self, path: Path) -> None:
        cause, document = self.read(CauseFile, path)
        if cause is None:
            self.partial.add("cause")
            return
        place = Place(path, document.spot(("id",)))
        if path.stem != cause.id:
            self.partial.add("cause")
            raise place.error(f"the file is named {path.name}, so the id must be '{path.stem}'", "id")
        self.keep("cause", cause.id, place)
        self.causes[cause.id] = cause
        if (cause.where == "axle") != (cause.front_share is not None):
            raise place.error("'front_share' stands exactly where 'where: axle' stands", "front_share")
        spoken: set[str] = set()
        for index, raised in enumerate(cause.raised_by):
            spot = Place(path, document.spot(("raised_by", index)))
            with self.collecting():
                sign = self.known_sign(raised.sign, spot)
                _say_once(spoken, raised.sign, spot)
                if sign is not None and len(sign.words) != 2:
                    raise spot.error(f"'{raised.sign}' has more than two words; use a table")
        self.check_tables(cause, cause.tables, spoken, document, path, ("tables",))
        if cause.variants and abs(sum(variant.share for variant in cause.variants) - 1.0) > _SUM_TOLERANCE:
            raise Place(path, document.spot(("variants",))).error(
                "the shares of the variants must sum to 1", "variants"
            )
        for number, variant in enumerate(cause.variants):
            self.check_tables(cause, variant.tables, set(), document, path, ("variants", number, "tables"))

    def check_tables(
        self,
        cause: CauseFile,
        tables: list[TableText],
        spoken: set[str],
        document: Document,
        path: Path,
        where: tuple[str | int, ...],
    ) -> None:
        for index, table in enumerate(tables):
            spot = Place(path, document.spot((*where, index)))
            with self.collecting():
                sign = self.known_sign(table.sign, spot)
                _say_once(spoken, table.sign, spot)
                if table.front is not None and cause.where != "axle":
                    raise spot.error(f"'{cause.id}' belongs to no axle; write one row 'any'")
                for name in ("any", "front", "rear"):
                    row = getattr(table, name)
                    if row is not None and sign is not None:
                        here = Place(path, document.spot((*where, index, name)))
                        _check_row(row, sign, here, f"the row '{name}' of '{table.sign}'")

    def read_pairs(self) -> PairFile | None:
        """The pairs; none where there is no such file, None where it has faults."""
        path = self.folder / "pairs.yaml"
        if not path.exists():
            return PairFile(amplified_share=0.5, pairs=[])
        file, document = self.read(PairFile, path)
        for index, pair in enumerate(file.pairs if file else []):
            place = Place(path, document.spot(("pairs", index)))
            with self.collecting():
                first, second = sorted(pair.causes)
                if first == second:
                    raise place.error(f"a pair is two causes, not '{first}' twice", "causes")
                for cause in pair.causes:
                    if cause not in self.causes and "cause" not in self.partial:
                        raise place.error(f"there is no cause '{cause}'", "causes")
                self.keep("pair", f"{first} and {second}", place)
        return file

    def known_sign(self, identity: str, place: Place) -> SignText | None:
        if identity not in self.signs and "sign" not in self.partial:
            raise place.error(f"there is no sign '{identity}' in signs.yaml")
        return self.signs.get(identity)

    def read_steps(self, path: Path) -> None:
        file, document = self.read(StepFile, path)
        if file is None:
            self.partial.add("step")
        for index, step in enumerate(file.steps if file else []):
            place = Place(path, document.spot(("steps", index)))
            with self.collecting():
                self.keep("step", step.id, place)
                self.steps[step.id] = step
                sign = self.known_sign(step.sign, place)
                if sign is None:
                    continue
                if set(step.outcomes) != set(sign.words):
                    words = ", ".join(sign.words)
                    raise place.error(f"the outcomes of '{step.id}' must be the words of '{sign.id}': {words}")
                for sentence in step.only_where:
                    self.check_cited(sentence, place, "only_where")
                for sentence in step.not_where:
                    self.check_cited(sentence, place, "not_where")
                for word in step.red_flag:
                    if word not in sign.words:
                        raise place.error(f"'{word}' is no outcome of '{step.id}'", "red_flag")

    def read_rules(self, path: Path) -> None:
        file, document = self.read(RuleFile, path)
        for index, rule in enumerate(file.rules if file else []):
            with self.collecting():
                self.keep("rule", rule.id, Place(path, document.spot(("rules", index))))
                self.rules[rule.id] = rule

    def check_references(self) -> None:
        for cause in self.causes.values():
            place = self.places[("cause", cause.id)]
            with self.collecting():
                for other in cause.looks_like:
                    if other not in self.causes and "cause" not in self.partial:
                        raise place.error(f"there is no cause '{other}'", "looks_like")
                danger = cause.danger
                if danger is not None and danger.cleared_by is not None:
                    step = self.steps.get(danger.cleared_by)
                    if step is None and "step" not in self.partial:
                        raise place.error(f"there is no step '{danger.cleared_by}'", "danger.cleared_by")
                    if step is not None and danger.clear_outcome not in step.outcomes:
                        raise place.error(
                            f"'{danger.clear_outcome}' is no outcome of '{step.id}'", "danger.clear_outcome"
                        )
        for sign in self.signs.values():
            with self.collecting():
                self.check_what_it_follows_from(sign)
        for step in self.steps.values():
            if step.settles is not None and step.settles not in self.causes and "cause" not in self.partial:
                self.faults.append(
                    self.places[("step", step.id)].error(f"there is no cause '{step.settles}'", "settles")
                )

    def check_what_it_follows_from(self, sign: SignText) -> None:
        place = self.places[("sign", sign.id)]
        for sentence in sign.follows_from:
            self.check_cited(sentence, place, "follows_from")

    def check_cited(self, sentence: str, place: Place, field: str) -> None:
        """The sentence says a word of a sign that there is."""
        try:
            cited = parse_conclusion(sentence)
        except SentenceError as error:
            raise place.error(str(error), field) from error
        other = self.known_sign(cited.name, place)
        if other is not None and cited.word not in other.words:
            raise place.error(f"'{cited.word}' is no word of '{cited.name}'", field)


def _say_once(spoken: set[str], sign: str, place: Place) -> None:
    if sign in spoken:
        raise place.error(f"the sign '{sign}' is weighed twice in this file; keep one")
    spoken.add(sign)


def _check_row(row: Row, sign: SignText, place: Place, what: str) -> None:
    if set(row) != set(sign.words):
        raise place.error(f"{what} must name each of {', '.join(sign.words)} once")
    total = sum(row.values())
    if abs(total - 1.0) > _SUM_TOLERANCE:
        raise place.error(f"{what} sums to {total:g}; it must sum to 1")
    if min(row.values()) <= 0.0:
        raise place.error(f"{what} has a share of 0; nothing is impossible, write at least 0.001")
