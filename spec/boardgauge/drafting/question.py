"""One question about a board.

Law of this module: a question is a value; who asks it, on a screen or in a file, is not its business. Its ``id`` is the
key of the spec that its answer goes to, so that an answer can be given before it is asked for.
"""

from __future__ import annotations

from attrs import frozen


@frozen
class Question:
    """One thing to be told of a board.

    ``default`` is what stands when nothing is answered: None where an answer is needed, "" where the key is then left
    out (``otherwise`` says what that means). A ``proposed`` default is ours and not the language's: the file says so.
    """

    id: str
    words: str
    example: str
    default: str | None = None
    otherwise: str = ""
    choices: tuple[str, ...] = ()
    proposed: bool = False
    heading: str = ""
    more: str = ""

    def answer(self, text: str) -> str | None:
        """Give what a text answers: itself, the default where it is empty, None where an answer is still needed."""
        text = " ".join(text.split())
        if not text:
            return self.default
        return "" if text == self.otherwise else text
