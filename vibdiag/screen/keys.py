"""All keys in one place. The footer shows at most six; help shows them all.

Ctrl+M, J, H and I are Enter, line feed, Backspace and Tab in a terminal and are not used.
"""

from __future__ import annotations

from textual.binding import Binding

__all__ = ["CASE_KEYS", "KEY_HELP", "START_HELP", "START_KEYS"]

_DIGITS = [Binding(str(number), f"choose({number})", show=False) for number in range(2, 10)]

CASE_KEYS = [
    *_DIGITS,
    Binding("1", "choose(1)", "Answer", key_display="1-9"),
    Binding("0", "choose(0)", "Don't know"),
    Binding("ctrl+s", "sign", "Sign: I have read this"),
    Binding("l", "steps", "Steps"),
    Binding("t", "trail", "Trail"),
    Binding("c", "causes", "Causes"),
    Binding("u", "undo", "Undo", show=False),
    Binding("f1,question_mark", "help", "Help", key_display="F1"),
    Binding("w", "words", "Words and speeds", show=False),
    Binding("v", "vehicle", "Vehicle", show=False),
    Binding("r", "road", "Road sheet", show=False),
    Binding("m", "bay", "Bay: measure", show=False),
    Binding("p", "proof", "Repair and proof", show=False),
    Binding("enter", "go_on", "Go on", show=False),
    Binding("s", "skip", "Skip", show=False),
    Binding("b", "back", "Back to the last answer", show=False),
    Binding("y", "redo", "Redo", show=False),
    Binding("x", "role", "Role", show=False),
    Binding("e", "summary", "Read back", show=False),
    Binding("n", "note", "Note to this step", show=False),
    Binding("escape", "leave", "All cases", show=False),
]

START_KEYS = [
    Binding("n", "new", "New case"),
    Binding("enter", "open", "Open"),
    Binding("slash", "search", "Search", key_display="/"),
    Binding("d", "due", "Due: done"),
    Binding("f1,question_mark", "help", "Help", key_display="F1"),
    Binding("q", "quit", "Quit"),
]

KEY_HELP = (
    ("1-9", "answer with that outcome; 0 is don't know and weighs nothing"),
    ("n", "write down what was said, word for word, with the next answer"),
    ("s", "skip this step; it comes back when it still tells most"),
    ("b", "go back to the last answer and change it"),
    ("l", "choose another step from all that are possible"),
    ("x", "steps for another role: desk, road, bay, all"),
    ("c", "causes: what speaks for and against, what would change it"),
    ("t", "trail: everything known; Enter changes, Delete withdraws"),
    ("w", "the customer's words and speeds"),
    ("v", "vehicle, tyres, ratios, and what turns how fast"),
    ("r", "road sheet for the passenger"),
    ("m", "bay: readings, wheel by wheel"),
    ("e", "read the answers back"),
    ("p", "repair, proof, close or reopen"),
    ("Ctrl+S", "sign for having read a danger; nothing else signs"),
    ("u / y", "undo / redo, over the whole case"),
    ("F2", "units: metric, inch, kPa"),
    ("F3", "theme: paper, night, contrast"),
    ("Ctrl+P", "everything by name"),
    ("Page Down", "reads on in what is to be done; caution and outcomes stay in sight"),
    ("Esc", "close what is open, asked first when something was typed; from the case, back to all cases"),
)

START_HELP = (
    ("n", "a new case, beginning with the customer's words"),
    ("Enter", "open the case in hand; it goes on where it was left"),
    ("/", "search: words of the title, the complaint or the car; Esc ends it"),
    ("d", "mark something that was due as done"),
    ("F2", "units: metric, inch, kPa"),
    ("F3", "theme: paper, night, contrast"),
    ("Ctrl+P", "everything by name"),
    ("q", "quit; everything is saved already"),
)
