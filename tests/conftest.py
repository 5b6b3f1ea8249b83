"""How many examples Hypothesis tries.

Law of this file: profiles only, no fixtures; a test brings what it needs. ``ci`` is taken by itself where ``CI`` is
set: the same examples every time, and fewer of them, since more that never change find nothing more. No profile has a
deadline, since a busy machine is no failure.
"""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("default", settings.get_profile("default"), deadline=None)
settings.register_profile("thorough", max_examples=1000, deadline=None)
settings.register_profile("long", max_examples=4000, deadline=None)
settings.register_profile("ci", settings.get_profile("ci"), max_examples=40)
if (taken := settings.get_current_profile_name()) in ("default", "ci"):
    settings.load_profile(taken)
