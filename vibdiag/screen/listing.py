"""The list every screen uses: Textual's own, whose page keys do not fall over a list that was not drawn yet."""

from __future__ import annotations

from textual.widgets import OptionList

__all__ = ["Listing"]


class Listing(OptionList):
    """Textual 8.2 knows the line of an option only once it was drawn with a width; a page key before that (a list just
    filled, or just shown) raised KeyError and ended the program. Such a key then goes to the first or the last option.
    """

    def action_page_up(self) -> None:
        if self._is_drawn():
            super().action_page_up()  # type: ignore[no-untyped-call]
        else:
            self.action_first()

    def action_page_down(self) -> None:
        if self._is_drawn():
            super().action_page_down()  # type: ignore[no-untyped-call]
        else:
            self.action_last()

    def _is_drawn(self) -> bool:
        return (self.highlighted or 0) in self._index_to_line
