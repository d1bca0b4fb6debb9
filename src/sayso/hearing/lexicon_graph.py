"""The lexicon graph of sayso's own models: built from a lexicon, read back, and extended with words.

HCLr.fst maps transition-ids to words: an optional silence, then a prefix tree of phones. Word ids are
numbered depth-first over the tree, so the words that a state can still reach are a few ranges and vosk's
label look-ahead needs no relabelling; nothing has to be determinised, so homophones need no extra symbols.
"""

from __future__ import annotations

import contextlib
import gc
import hashlib
import json
import math
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

from sayso.arpabet import ARPABET
from sayso.hearing.grammar import UNKNOWN
from sayso.hearing.lookahead_fst import (
    ACCEPTOR,
    EXPANDED,
    INPUT_SORTED,
    OUTPUT_SORTED,
    Arc,
    Intervals,
    const_fst,
    lookahead_fst,
    read_lookahead_fst,
)
from sayso.hearing.phones import LABEL_IDS, LABELS, SILENCE, SPOKEN_NOISE, position_labels

Pronunciation = tuple[str, ...]
Lexicon = Mapping[str, Sequence[Pronunciation]]

#: Bump when what is written changes, so that cached graphs are made anew.
_FORMAT = 2


@dataclass(frozen=True, slots=True)
class GraphCosts:
    """Negative natural logs. `word` is charged per word (against insertions), `unknown` per [unk].

    `filler` is charged per phone of an [unk] that is any string of phones; None makes [unk] the one
    spoken-noise phone, for nets whose output for it is a constant. `variants` is charged for a word said in
    this way, on top: what few speakers say must not take as much from other words as what most say.
    """

    word: float = 8.0
    unknown: float = 0.0
    silence_probability: float = 0.5
    filler: float | None = None
    variants: Mapping[tuple[str, Pronunciation], float] = field(default_factory=dict)


def _forward(label: int) -> int:
    """Transition-id that enters a phone; each phone is one state with a self-loop."""
    return 2 * label


def _loop(label: int) -> int:
    return 2 * label - 1


@dataclass(slots=True)
class _Node:
    children: dict[int, int]
    words: dict[str, float]
    """Words that end here, each with the cost of this pronunciation of it."""


def _prefix_tree(lexicon: Lexicon, variants: Mapping[tuple[str, Pronunciation], float]) -> list[_Node]:
    tree = [_Node({}, {})]
    for word, pronunciations in lexicon.items():
        for phones in pronunciations:
            at = 0
            for label in position_labels(tuple(phones)):
                following = tree[at].children.get(label)
                if following is None:
                    following = tree[at].children[label] = len(tree)
                    tree.append(_Node({}, {}))
                at = following
            tree[at].words[word] = variants.get((word, tuple(phones)), 0.0)
    return tree


def _depth_first(tree: list[_Node]) -> list[int]:
    order, stack = [], [0]
    while stack:
        at = stack.pop()
        order.append(at)
        children = tree[at].children
        stack.extend(children[label] for label in sorted(children, reverse=True))
    return order


def _ranges(labels: set[int]) -> Intervals:
    out: list[list[int]] = []
    for label in sorted(labels):
        if out and out[-1][1] == label:
            out[-1][1] = label + 1
        else:
            out.append([label, label + 1])
    return tuple((begin, end) for begin, end in out)


@dataclass(frozen=True, slots=True)
class GraphFiles:
    """What goes into graph/: the two FSTs and the word list in id order (words[0] is id 1)."""

    hcl: bytes
    g: bytes
    words: tuple[str, ...]


def build_graph(lexicon: Lexicon, costs: GraphCosts) -> GraphFiles:
    """Graph of `lexicon` (word -> pronunciations as tuples of ARPAbet phones). [unk] is always in it.

    Raises ValueError for a word without phones or with a phone that is not ARPAbet.
    """
    _check(lexicon)
    tree = _prefix_tree(lexicon, costs.variants)
    order = _depth_first(tree)
    ids: dict[str, int] = {UNKNOWN: 1}
    for at in order:
        for spelling in tree[at].words:
            ids.setdefault(spelling, len(ids) + 1)
    final_label = len(ids) + 1
    everything: Intervals = ((1, final_label + 1),)

    ends = [len(node.words) for node in tree]
    below = [{ids[word] for word in node.words} for node in tree]
    for at in reversed(order):
        for child in tree[at].children.values():
            ends[at] += ends[child]
            below[at] |= below[child]

    # 0: before the optional silence; 1: start of a word, tree root, the only final state; 2: in silence
    silence = LABEL_IDS[SILENCE]
    states: list[list[Arc]] = [[], [], []]
    reachable: list[Intervals] = [everything] * 3
    no_silence = costs.word - math.log(1 - costs.silence_probability)
    states[0] += [
        (0, 0, no_silence, 1),
        (_forward(silence), 0, costs.word - math.log(costs.silence_probability), 2),
    ]
    states[2] += [(_loop(silence), 0, 0.0, 2), (0, 0, 0.0, 1)]
    state_of = {0: 1}
    for at in order:  # parents come before their children
        here = state_of[at]
        for label in sorted(tree[at].children):
            child = tree[at].children[label]
            alone = ends[child] == 1  # the word is certain from here on, so it is put out on the way in
            word = next(iter(below[child])) if alone and (ends[at] > 1 or at == 0) else 0
            states.append([(_loop(label), 0, 0.0, len(states))])
            reachable.append(everything if alone else _ranges(below[child]))
            state_of[child] = len(states) - 1
            states[here].append((_forward(label), word, 0.0, len(states) - 1))
        if at:
            for spelling, cost in tree[at].words.items():
                states[here].append((0, 0 if ends[at] == 1 else ids[spelling], cost, 0))
    gate = len(states)
    states[1].append((0, ids[UNKNOWN], costs.unknown, gate))
    states += _unknown_word(gate, costs.filler)
    reachable += [everything] * (len(states) - gate)
    for arcs in states:
        arcs.sort(key=lambda arc: (arc[1], arc[0]))

    words = tuple(sorted(ids, key=ids.__getitem__))
    unigram = math.log(len(words) + 1)
    loop: list[Arc] = [(i, i, unigram, 0) for i in range(1, len(words) + 1)]
    properties = EXPANDED | ACCEPTOR | INPUT_SORTED | OUTPUT_SORTED
    return GraphFiles(
        hcl=lookahead_fst(states, {1: 0.0}, 0, reachable, final_label),
        g=const_fst([loop], {0: unigram}, 0, properties),
        words=words,
    )


def _unknown_word(gate: int, filler: float | None) -> list[list[Arc]]:
    """States from `gate` on that lead back to state 0: a spoken noise, or phones at a cost each."""
    if filler is None:
        noise = LABEL_IDS[SPOKEN_NOISE]
        return [[(_forward(noise), 0, 0.0, gate + 1)], [(_loop(noise), 0, 0.0, gate + 1), (0, 0, 0.0, 0)]]
    inside = gate + 1
    states: list[list[Arc]] = [[], []]
    # begin, internal, end and singleton forms, so that vosk finds the word's edges
    places = (("B", gate, inside), ("I", inside, inside), ("E", inside, 0), ("S", gate, 0))
    for place, source, target in places:
        for phone in ARPABET:
            label, here = LABEL_IDS[f"{phone}_{place}"], gate + len(states)
            states[source - gate].append((_forward(label), 0, filler, here))
            states.append([(_loop(label), 0, 0.0, here), (0, 0, 0.0, target)])
    return states


def _check(lexicon: Lexicon) -> None:
    known = set(ARPABET)
    for word, pronunciations in lexicon.items():
        if not pronunciations:
            raise ValueError(f"'{word}' has no pronunciation")
        for phones in pronunciations:
            wrong = [p for p in phones if p not in known]
            if wrong or not phones:
                what = f"'{wrong[0]}' is no ARPAbet phone" if wrong else "it is empty"
                raise ValueError(
                    f"pronunciation of '{word}': {what}; write phones such as {' '.join(ARPABET[:6])}"
                )


def write_graph(directory: Path, lexicon: Lexicon, costs: GraphCosts) -> GraphFiles:
    """Write graph/ (all files that vosk reads, plus phones.txt and lexicon.txt for people)."""
    files = build_graph(lexicon, costs)
    graph = directory / "graph"
    (graph / "phones").mkdir(parents=True, exist_ok=True)
    (graph / "HCLr.fst").write_bytes(files.hcl)
    (graph / "Gr.fst").write_bytes(files.g)
    listed = "".join(f"{word} {index}\n" for index, word in enumerate(files.words, 1))
    (graph / "words.txt").write_text(f"<eps> 0\n{listed}", encoding="utf-8")
    names = "".join(f"{name} {index}\n" for index, (name, _) in enumerate(LABELS, 1))
    (graph / "phones.txt").write_text(f"<eps> 0\n{names}#0 {len(LABELS) + 1}\n", encoding="utf-8")
    kinds = "".join(f"{index} {kind}\n" for index, (_, kind) in enumerate(LABELS, 1))
    (graph / "phones" / "word_boundary.int").write_text(kinds, encoding="utf-8")
    # vosk wants the file; the id in it is one past the last transition-id, so it never occurs
    (graph / "disambig_tid.int").write_text(f"{2 * len(LABELS) + 1}\n", encoding="utf-8")
    lines = (
        f"{word} {' '.join(phones)}\n" for word, several in sorted(lexicon.items()) for phones in several
    )
    (graph / "lexicon.txt").write_text("".join(lines), encoding="utf-8")
    return files


def has_own_layout(hcl: Path) -> bool:
    """True when HCLr.fst was laid out by sayso, so that its lexicon can be read back and added to."""
    try:
        state = hcl.stat()
        return _has_own_layout(hcl, state.st_size, state.st_mtime_ns)
    except OSError:
        return False


@lru_cache(maxsize=8)
def _has_own_layout(hcl: Path, size: int, changed_ns: int) -> bool:
    """Asked several times while a job begins, at a tenth of a second each."""
    try:
        read_graph(hcl, only_costs=True)
    except ValueError:
        return False
    return True


#: What a pronunciation costs beyond others of its word, by word id.
_Said = tuple[Pronunciation, float]


def read_graph(hcl: Path, *, only_costs: bool = False) -> tuple[dict[int, list[_Said]], GraphCosts]:
    """Lexicon (by word id) and costs of a graph that sayso wrote. Raises ValueError for any other."""
    fst = read_lookahead_fst(hcl)
    silence, noise = LABEL_IDS[SILENCE], LABEL_IDS[SPOKEN_NOISE]
    states = fst.states
    strange = ValueError(f"{hcl}: not a graph in sayso's layout")
    if (
        fst.start != 0
        or len(states) < 6
        or sorted((a[0], a[3]) for a in states[0]) != [(0, 1), (_forward(silence), 2)]
    ):
        raise strange
    if sorted((a[0], a[3]) for a in states[2]) != [(0, 1), (_loop(silence), 2)]:
        raise strange
    direct = next(a[2] for a in states[0] if a[0] == 0)
    through = next(a[2] for a in states[0] if a[0] != 0)
    odds = math.exp(direct - through)  # P(silence) / P(none)
    probability = odds / (1 + odds)
    unknown = [a for a in states[1] if a[0] == 0]
    if len(unknown) != 1:
        raise strange
    entered = [a[0] for a in states[unknown[0][3]]]
    filler: float | None = None
    if entered != [_forward(noise)]:
        if len(entered) != 2 * len(ARPABET):
            raise strange
        filler = round(states[unknown[0][3]][0][2], 4)
    costs = GraphCosts(
        word=round(direct + math.log(1 - probability), 4),
        unknown=round(unknown[0][2], 4),
        silence_probability=round(probability, 4),
        filler=filler,
    )
    lexicon: dict[int, list[_Said]] = {}
    if only_costs:
        return lexicon, costs
    phone_of = {index: name.split("_")[0] for name, index in LABEL_IDS.items()}
    stack: list[tuple[int, int, Pronunciation]] = [(1, 0, ())]
    while stack:
        state, word, phones = stack.pop()
        for ilabel, olabel, cost, following in states[state]:
            if following == state or (state == 1 and ilabel == 0):
                continue
            if ilabel == 0:
                if following != 0 or not (word or olabel):
                    raise strange
                lexicon.setdefault(word or olabel, []).append((phones, round(cost, 4)))
            else:
                if ilabel % 2 or ilabel // 2 not in phone_of:
                    raise strange
                stack.append((following, word or olabel, (*phones, phone_of[ilabel // 2])))
    return lexicon, costs


def read_lexicon(model: Path) -> tuple[dict[str, list[Pronunciation]], GraphCosts]:
    """Spelled lexicon and costs of a model directory in sayso's layout."""
    by_id, costs = read_graph(model / "graph" / "HCLr.fst")
    names: dict[int, str] = {}
    with (model / "graph" / "words.txt").open(encoding="utf-8") as lines:
        for line in lines:
            word, _, index = line.strip().rpartition(" ")
            names[int(index)] = word
    variants = {(names[i], phones): cost for i, said in by_id.items() for phones, cost in said if cost}
    lexicon = {names[i]: sorted(phones for phones, _ in by_id[i]) for i in sorted(by_id)}
    return lexicon, replace(costs, variants=variants)


def cache_directory() -> Path:
    """$XDG_CACHE_HOME/sayso/models, else ~/.cache/sayso/models (XDG Base Directory Specification)."""
    root = os.environ.get("XDG_CACHE_HOME")
    return (Path(root) if root else Path.home() / ".cache") / "sayso" / "models"


def extended_model(
    origin: Path, current: Path, words: Mapping[str, Sequence[str]], cache: Path | None = None
) -> Path:
    """A model directory like `current` with `words` added, made in the cache unless it is there already.

    am/ and conf/ are linked (copied where links are not allowed) from `origin`, so the cache stays small.
    """
    added = {word: [tuple(text.split()) for text in several] for word, several in words.items()}
    _check(added)
    digest = hashlib.sha256(json.dumps([_FORMAT, sorted(added.items())]).encode())
    digest.update((current / "graph" / "HCLr.fst").read_bytes())
    digest.update(str(origin.resolve()).encode())
    target = (cache or cache_directory()) / f"{origin.name}-{digest.hexdigest()[:16]}"
    if (target / "graph" / "HCLr.fst").is_file():
        return target
    lexicon, costs = read_lexicon(current)
    for word, pronunciations in added.items():
        kept = lexicon.setdefault(word, [])
        kept.extend(p for p in pronunciations if p not in kept)
    target.parent.mkdir(parents=True, exist_ok=True)
    # made aside and moved into place whole, so that a kill half-way leaves no broken model
    making = Path(tempfile.mkdtemp(prefix=".making-", dir=target.parent))
    try:
        for entry in origin.iterdir():
            if entry.name not in ("graph", "README.md"):
                _link(entry.resolve(), making / entry.name)
        with _without_collecting():
            write_graph(making, lexicon, costs)
        try:
            making.rename(target)
        except OSError:
            if not (target / "graph" / "HCLr.fst").is_file():  # else another process was faster
                raise
    finally:
        shutil.rmtree(making, ignore_errors=True)
    return target


@contextlib.contextmanager
def _without_collecting() -> Iterator[None]:
    """Python's search for reference cycles (there are none) takes a third of the time of making a graph."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _link(source: Path, target: Path) -> None:
    try:
        target.symlink_to(source, target_is_directory=source.is_dir())
    except OSError:  # Windows without the right to make links
        if source.is_dir():
            shutil.copytree(source, target)
        else:
            shutil.copy2(source, target)
