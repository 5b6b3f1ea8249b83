"""Names of a spec as names of C.

Law of this module: a name that C, C++ or a common header takes for its own gets an underscore behind it, and so does
the second of two that come out alike. The same board gives the same names.
"""

from __future__ import annotations

import re

from attrs import define, field

_TAKEN = frozenset(
    # C99 and C11, C++ (the header may be read by it), and what stdbool.h, stdint.h and common compilers define.
    [
        "auto",
        "break",
        "case",
        "char",
        "const",
        "continue",
        "default",
        "do",
        "double",
        "else",
        "enum",
        "extern",
        "float",
        "for",
        "goto",
        "if",
        "inline",
        "int",
        "long",
        "register",
        "restrict",
        "return",
        "short",
        "signed",
        "sizeof",
        "static",
        "struct",
        "switch",
        "typedef",
        "union",
        "unsigned",
        "void",
        "volatile",
        "while",
        "alignas",
        "alignof",
        "and",
        "and_eq",
        "asm",
        "bitand",
        "bitor",
        "bool",
        "catch",
        "class",
        "compl",
        "concept",
        "const_cast",
        "constexpr",
        "constinit",
        "consteval",
        "co_await",
        "co_return",
        "co_yield",
        "decltype",
        "delete",
        "dynamic_cast",
        "explicit",
        "export",
        "false",
        "friend",
        "mutable",
        "namespace",
        "new",
        "noexcept",
        "not",
        "not_eq",
        "nullptr",
        "operator",
        "or",
        "or_eq",
        "private",
        "protected",
        "public",
        "reinterpret_cast",
        "requires",
        "static_assert",
        "static_cast",
        "template",
        "this",
        "thread_local",
        "throw",
        "true",
        "try",
        "typeid",
        "typename",
        "using",
        "virtual",
        "wchar_t",
        "xor",
        "xor_eq",
        "char8_t",
        "char16_t",
        "char32_t",
        "typeof",
        "typeof_unqual",
        "linux",
        "unix",
        "i386",
        "near",
        "far",
        "huge",
        "interrupt",
        "errno",
        "assert",
    ]
)

_OF_A_HEADER = re.compile(r"U?INT\w*_(C|MIN|MAX)|(SIZE|PTRDIFF|WCHAR|WINT|SIG_ATOMIC)_(MIN|MAX)|NULL|EOF|E[A-Z0-9]+")


def c_name(name: str) -> str:
    """Give a name that C takes: letters, digits and ``_``, no word of the language."""
    plain = re.sub(r"[^A-Za-z0-9_]", "_", name)
    if not plain[:1].isalpha():
        plain = f"n{plain}"
    return f"{plain}_" if plain in _TAKEN or _OF_A_HEADER.fullmatch(plain) else plain


@define
class Names:
    """Names in one scope: no two alike."""

    _used: set[str] = field(factory=set)

    def give(self, wanted: str) -> str:
        """Give the name wanted, or the next one like it that is free."""
        name = c_name(wanted)
        while name in self._used:
            name += "_"
        self._used.add(name)
        return name
