"""Paste your draft: every line with its grams and what it is taken for, mended where need be."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import streamlit as st

from balancer.dashboard import look, session
from balancer.dashboard.address import packed, unpacked
from balancer.dashboard.fields import told
from balancer.dashboard.work import as_it_is, begun, solved
from balancer.draft_lines import FAIR, GOOD, DraftLine, Kind
from balancer.errors import BadInput, BalancerError
from balancer.export.markdown import escaped
from balancer.parse_request import most_report
from balancer.pasted import Pasted

#: More lines than this are no sauce; the command line reads longer ones.
MOST_LINES = 300
#: Letters of a draft: as many lines, each longer than any that can be mended.
LONGEST_TEXT = 200_000
#: Lines that are mended at a time.
AT_A_TIME = 12
#: Letters that are kept in the address; a longer draft lives as long as the window.
LONGEST_KEPT = 16_000
PLACE = "paste"  # name of the draft in the address


@dataclass(frozen=True)
class Paste:
    """A draft on its way into a sauce.

    Parameters
    ----------
    name : str
        What the sauce is to be called.
    text : str
        As it was pasted.
    mended : mapping of int to str
        Number of a line and what it should read.
    taken_for : mapping of (int, int) to str
        Number of a line and which of its ingredients, and the food number it means.
    left_out : frozenset of int
        Numbers of lines that do not count.
    looked : bool
        Whether the cook was shown what is taken on a guess.
    """

    name: str = ""
    text: str = ""
    mended: Mapping[int, str] = field(default_factory=dict)
    taken_for: Mapping[tuple[int, int], str] = field(default_factory=dict)
    left_out: frozenset[int] = frozenset()
    looked: bool = False

    def written(self) -> str:
        """The draft as letters that an address can hold; empty for nothing."""
        if not (self.name or self.text.strip()):
            return ""
        kept = {
            "name": self.name,
            "text": self.text,
            "mended": {str(n): words for n, words in self.mended.items()},
            "taken": [[n, i, key] for (n, i), key in self.taken_for.items()],
            "out": sorted(self.left_out),
        }
        return packed(kept)

    @classmethod
    def read(cls, letters: str) -> Paste:
        """Read what :meth:`written` wrote; what cannot be read is an empty draft.

        Examples
        --------
        >>> Paste.read(Paste("dip", "380 g plums", {1: "400 g plums"}).written()).mended
        {1: '400 g plums'}
        """
        try:
            kept = unpacked(letters)
            return cls(
                str(kept["name"]),
                str(kept["text"]),
                {int(n): str(words) for n, words in kept["mended"].items()},
                {(int(n), int(i)): str(key) for n, i, key in kept["taken"]},
                frozenset(int(n) for n in kept["out"]),
            )
        except (BadInput, KeyError, TypeError, ValueError, AttributeError, OverflowError):
            return cls()


def paste() -> Paste:
    """The draft on its way; after a reload, the one in the address."""
    found: Paste | None = st.session_state.get("pasted")
    if found is None:
        found = Paste.read(str(st.query_params.get(PLACE, "")))
        st.session_state["pasted"] = found
    return found


def put(new: Paste) -> None:
    """Keep the draft."""
    st.session_state["pasted"] = new
    session.note(PLACE, "")


def into_address(shown: bool) -> None:
    """Write the draft into the address while the page that shows it is in view."""
    letters = paste().written() if shown else ""
    if not letters or len(letters) > LONGEST_KEPT:
        st.query_params.pop(PLACE, None)
    elif st.query_params.get(PLACE) != letters:
        st.query_params[PLACE] = letters


def draw() -> None:
    """Draw the field, the button and what became of every line."""
    now = paste()
    st.text_area(
        "Your draft, one ingredient a line",
        key=session.bound("_draft_text", now.text),
        placeholder="380 g plums, pitted\n2 tbsp rice vinegar\njuice of 3 limes\n1 tsp salt",
        height=190,
        on_change=_typed,
    )
    st.button("Start the sauce with these", key="_paste_start", type="primary", width="stretch",
              on_click=_start)  # fmt: skip
    told(PLACE)
    if not now.text.strip():
        st.caption("The levels that the draft has become the target. Weights are of what is eaten.")
        return
    try:
        _lines(read(now))
    except BalancerError as error:
        if session.noted(PLACE) != session.sentence(error):
            st.error(escaped(session.sentence(error)))
    if len(now.written()) > LONGEST_KEPT:
        st.caption("This draft is too long for the page's address: a reload would lose it.")


def read(now: Paste) -> Pasted:
    """Read the draft as it stands.

    Raises
    ------
    BadInput
        If it is empty or too long.
    """
    if len(now.text) > LONGEST_TEXT:
        raise BadInput(
            f"The draft has {len(now.text):,} letters; this page reads {LONGEST_TEXT:,}. Paste one"
            " recipe at a time, or let `balancer paste` read the file."
        )
    count = sum(1 for line in now.text.splitlines() if line.strip())
    if count > MOST_LINES:
        raise BadInput(
            f"The draft has {count} lines; this page reads {MOST_LINES}. Paste one recipe at a"
            " time, or let `balancer paste` read the file."
        )
    key = json.dumps([now.text, [*now.mended.items()], [*now.taken_for.items()]]) + str(
        sorted(now.left_out)
    )
    return session.cached(
        PLACE,
        key,
        lambda: session.kitchen().paste(
            now.text, mended=now.mended, taken_for=now.taken_for, left_out=now.left_out
        ),
    )


def _typed() -> None:
    """Take over what was typed; what was said of lines that are still the same stays."""
    old, text = paste(), str(st.session_state.get("_draft_text") or "")
    before, after = old.text.splitlines(), text.splitlines()
    same = {n for n, (a, b) in enumerate(zip(before, after, strict=False), 1) if a == b}
    put(
        replace(
            old,
            text=text,
            mended={n: words for n, words in old.mended.items() if n in same},
            taken_for={(n, i): key for (n, i), key in old.taken_for.items() if n in same},
            left_out=old.left_out & same,
            looked=False,
        )
    )


def _start() -> None:
    if str(st.session_state.get("_draft_text") or "") != paste().text:
        _typed()  # typed and pressed in one go
    now = paste()

    def act() -> None:
        found = read(now)
        if found.open_lines:
            numbers = ", ".join(str(n) for n in dict.fromkeys(_numbers(found.open_lines)[:8]))
            raise BadInput(
                f"Not understood yet: line {numbers}. Mend it below, or leave it out, and press"
                " again."
            )
        guessed = [x for x in found.lines if x.kind is Kind.READ and x.confidence < FAIR]
        if guessed and not now.looked:
            put(replace(now, looked=True))
            numbers = ", ".join(str(x.number) for x in guessed[:8])
            raise BadInput(f"Taken on a guess: line {numbers}. Look at it below, then press again.")
        document = found.request(now.name.strip(), with_to_taste=True)
        document = {**document, "name": document.get("name") or "my sauce"}
        session.put(begun(as_it_is(document, solved(session.kitchen(), document))))
        st.session_state["pasted"] = Paste()

    session.attempt(PLACE, act)


# --- line by line -------------------------------------------------------------------------------


def _numbers(lines: Sequence[DraftLine]) -> list[int]:
    return [line.number for line in lines]


def _quantity(line: DraftLine, found: Pasted) -> tuple[str, str, str]:
    """Quantity, ingredient and how sure, as the table of lines shows them."""
    if line is found.title:
        return "·", "name of the sauce", "·"
    known = line.match.ingredient.name if line.match else "·"
    if line.kind is Kind.READ:
        return look.grams(line.weight.grams), known, line.confidence_word
    if line.kind is Kind.TO_TASTE:
        return "left open", known, str(line.kind)
    return "·", known, str(line.kind)


def _lines(found: Pasted) -> None:
    numbered: list[tuple[int, DraftLine]] = []
    count: dict[int, int] = {}
    for line in found.lines:
        numbered.append((count.get(line.number, 0), line))
        count[line.number] = count.get(line.number, 0) + 1
    rows = [(i, x) for i, x in numbered if x.kind is not Kind.HEADING]
    left_open = found.open_lines
    doubtful = [
        (i, x) for i, x in rows if x in left_open or (x.kind is Kind.READ and x.confidence < GOOD)
    ]
    st.html(
        look.table(
            ("as written", "quantity", "taken for", "sure"),
            [(f"{x.number}. {x.text.strip()}", *_quantity(x, found)) for _, x in rows],
        )
    )
    for sentence in most_report(found.lines, with_to_taste=True):
        st.caption(sentence)
    chosen = st.selectbox(
        "Change a line",
        [0, *dict.fromkeys(x.number for _, x in rows)],
        format_func=lambda n: f"line {n}" if n else "choose",
        key="_paste_line",
    )
    for place, line in doubtful[:AT_A_TIME]:
        _mend(place, line)
    shown = {line.number for _, line in doubtful[:AT_A_TIME]}
    for place, line in rows:
        if line.number == chosen and line.number not in shown:
            _mend(place, line)
    if len(doubtful) > AT_A_TIME:
        st.caption(f"And {len(doubtful) - AT_A_TIME} lines more to look at, once these are done.")
    if len(left_open) > 1:
        st.button(
            f"Leave out all {len(left_open)} that are not understood",
            key="_paste_out_all",
            on_click=_leave_out,
            args=(tuple(_numbers(left_open)),),
        )
    for number in found.left_out:
        st.button(
            f"Take line {number} in again",
            key=f"_paste_in_{number}",
            on_click=_take_in,
            args=(number,),
        )


def _mend(place: int, line: DraftLine) -> None:
    number, name = line.number, f"{line.number}_{place}"
    with st.container(border=True, key=f"mend_{name}"):
        sure = "" if line.kind is not Kind.READ else f" Sure: {line.confidence_word}."
        rests = f" {line.weight.how}." if line.kind is Kind.READ else ""
        st.markdown(f"**Line {number}:** {escaped(line.text.strip())}")
        note = line.note.replace(", or leave it to the solver", "")
        if note or sure:
            st.caption(escaped(f"{note}{rests}{sure}".strip()))
        matches = ((line.match,) if line.match else ()) + line.alternatives
        if matches:
            names = {m.ingredient.key: m.ingredient.name for m in matches}
            now = paste().taken_for.get((number, place), next(iter(names)) if line.match else "")
            options = list(names) if line.match else ["", *names]
            st.selectbox(
                f"Line {number} means",
                options,
                format_func=lambda key: names.get(key, "choose"),
                key=session.bound(f"_means_{name}", now if now in options else options[0]),
                on_change=_means,
                args=(number, place),
            )
        if place == 0:
            st.text_input(
                f"Line {number} should read",
                key=session.bound(f"_mend_{number}", paste().mended.get(number, line.text.strip())),
                max_chars=400,
                on_change=_mended,
                args=(number,),
            )
            st.button(f"Leave line {number} out", key=f"_paste_out_{number}",
                      on_click=_leave_out, args=((number,),))  # fmt: skip


def _means(number: int, place: int) -> None:
    now, key = paste(), str(st.session_state.get(f"_means_{number}_{place}") or "")
    kept = {where: k for where, k in now.taken_for.items() if where != (number, place)}
    put(replace(now, taken_for={**kept, (number, place): key} if key else kept))


def _mended(number: int) -> None:
    now, words = paste(), str(st.session_state.get(f"_mend_{number}") or "").strip()
    mended = {n: w for n, w in now.mended.items() if n != number}
    taken_for = {where: k for where, k in now.taken_for.items() if where[0] != number}
    put(replace(now, mended={**mended, number: words} if words else mended, taken_for=taken_for))


def _leave_out(numbers: tuple[int, ...]) -> None:
    now = paste()
    put(replace(now, left_out=now.left_out | set(numbers)))


def _take_in(number: int) -> None:
    now = paste()
    put(replace(now, left_out=now.left_out - {number}))
