"""Results that tell of the work: "the fan lifts right out", "the cover goes back on with four screws"."""

from __future__ import annotations

from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.model import Thing
from lastscrew.reading.predicates import Found, VerbPhrases

_VERBS = word_group("results_verbs")
_BARE = word_group("results_bare")
_AWAY = frozenset(["out", "off", "away", "loose", "free", "apart", "clear", "up", "back"])
_OUT = frozenset(["out", "off", "away"])
_HOME = frozenset(["in", "on", "back", "down", "together", "home", "up"])
_PUTTING = word_group("results_putting")
_TAKING = word_group("results_taking")


_SWUNG = {"open": "open", "shut": "close", "closed": "close"}
_SWINGING = frozenset(["swing", "flip", "fold", "pop", "hinge", "lift", "spring", "tip", "tilt", "drop", "snap", "slide", "click", "go", "fall", "push", "press"])  # fmt: skip  # noqa: E501


class Results(VerbPhrases):
    """What becomes of a thing, said in place of the order that makes it so."""

    def result(self, subject: Found, j: int) -> Found | None:
        """Result = verb {adverb} particle [("of" | "from" | "into" | "with" …) phrases] behind its subject."""
        thing = subject.things[-1]
        if thing.name.endswith("'s") and self.low(j) == "come":
            return None  # "the seal's come off": what went wrong
        if thing.head == "thing":
            thing = Thing("it", "it", "pronoun")
            subject.things = [*subject.things[:-1], thing]
        if self.low(j) in ("follows", "follow") and not self.phrases.spoken:
            return self._follows(subject, j)
        if (
            self.phrases.spoken
            and thing.category in ("cable", "connector", "antenna")
            and self.low(j) in ("goes", "go")
            and self.low(j + 1) in ("to", "into", "across", "over", "straight")
        ):
            return None
        sits = self._sits(subject, j)
        if sits is not None:
            return sits
        if self.low(j + 1) in _SWUNG and self.lexicon.verb_of(self.low(j), "s") in _SWINGING:
            key = _SWUNG[self.low(j + 1)]
            return Found(key, key, j, things=list(subject.things), weak="result", end=j + 2)
        past = self.low(j) in (
            "came",
            "fell",
            "dropped",
            "lifted",
            "slid",
            "popped",
            "went",
            "pulled",
        )
        lemma = self.lexicon.verb_of(self.low(j), "past" if past else "s", "base")
        if past and lemma in _VERBS and not thing.is_pronoun:
            return self.result_at(subject, j)
        tool = thing.category == "tool" and not (
            self.phrases.spoken and thing.article == "the" and self.low(j + 1) in _OUT
        )
        named = self.phrases.spoken and " " in thing.name and thing.category == "place"
        nothing = thing.category in ("text", "place", "body", "software") and not named
        if lemma not in _VERBS or tool or nothing:
            return None
        several = thing.plural or (len(subject.things) > 1 and not self.phrases.spoken)
        if not several and not self.lexicon.verb_of(self.low(j), "s") and not thing.is_pronoun:
            return None
        return self.result_at(subject, j)

    def _sits(self, subject: Found, j: int) -> Found | None:
        """As in "the lid sits down on its pins", "the bar goes across": told of the way back, where it is put so."""
        verb, follow = self.low(j), self.low(j + 1)
        if not self.phrases.spoken or subject.things[-1].category in ("fastener", "text", "place"):
            return None
        sits = verb in ("sits", "sit") and follow in ("on", "down", "over", "in", "flat", "back")
        goes = verb in ("goes", "go") and follow in ("across", "over", "round", "around", "under", "underneath", "between", "behind")  # fmt: skip  # noqa: E501
        if not (sits or goes):
            return None
        tail = Found("go", "go in", j, things=list(subject.things), weak="result")
        tail.end = max(self._modifiers(j + 1, tail), j + 2)
        tail.things = list(subject.things)
        return tail

    def _follows(self, subject: Found, j: int) -> Found | None:
        """As in "The bowl follows with its six screws": told of the way back."""
        found, end = self.verb_phrase(j)
        if (
            found is None
            or found.things
            or subject.things[-1].category in ("text", "place", "pronoun")
        ):
            return None
        found.lemma = found.key = "refit"
        found.things, found.weak, found.end = list(subject.things), "result", end
        return found

    def result_at(self, subject: Found, j: int) -> Found | None:
        """The same behind "will", "should", "has to", where the verb has its base form."""
        if self.lexicon.verb_of(self.low(j), "s", "base", "past") not in _VERBS:
            return None
        found, end = self.verb_phrase(j)
        return self._told_by(subject, found, end) if found is not None else None

    def inverted(self, i: int) -> tuple[Found | None, int]:
        """Inverted = ("out" | "off" | "in" | "on" …) phrase verb: "and out it comes", "off comes the lid"."""
        particle = self.low(i)
        if particle not in ("out", "off", "away", "up", "in", "on", "down", "back"):
            return None, i
        if particle in ("out", "off") and self.low(i + 1) == "with":
            things, end = self.phrases.list_of(i + 2)  # "Out with it", "off with the lid"
            key = f"take {particle}"
            return (Found("take", key, i, things=things, end=end), end) if things else (None, i)
        moves = ("come", "go", "lift", "slide", "pop", "pull")
        if self.lexicon.verb_of(self.low(i + 1), "s", "base") in moves:
            lemma = self.lexicon.verb_of(self.low(i + 1), "s", "base")
            things, end = self.phrases.list_of(i + 2)
        else:
            things, j = self.phrases.list_of(i + 1)
            lemma = self.lexicon.verb_of(self.low(j), "s", "base")
            end = j + 1
        key = f"{lemma} {particle}"
        if not things or lemma not in moves or key not in self.lexicon.verbs:
            return None, i
        return Found(lemma, key, i, things=things, particle=particle, weak="result", end=end), end

    def with_tool(self, subject: Found, j: int) -> Found | None:
        """As in "a ten millimetre socket gets those off": the tool is said to do the work."""
        lemma = self.lexicon.verb_of(self.low(j), "s")
        if subject.things[-1].category != "tool" or lemma not in (
            "get",
            "take",
            "pull",
            "pop",
            "pry",
            "lift",
            "loosen",
            "remove",
            "undo",
        ):
            return None
        found, end = self.verb_phrase(j)
        if found is None or not found.things:
            return None
        found.tool, found.tool_drive = subject.things[-1].name, subject.things[-1].drive
        found.end = end
        return found

    def carried_result(self, subject: Found, j: int) -> Found | None:
        """As in "… and goes back down with six screws": the subject is that of the words before."""
        return self.result(subject, j) if self.lexicon.verb_of(self.low(j), "s") else None

    def _told_by(self, subject: Found, found: Found, end: int) -> Found | None:
        particle = found.particle
        if (
            not self.phrases.spoken
            and found.lemma in ("push", "press", "pull")
            and self.phrases.is_det(found.position + 1)
        ):
            return None  # "a spring pushes the brush out": what it does to something else
        if found.lemma in ("drop", "fall", "come") and any(t.category == "body" for t in found.to):
            # "the plate drops into your hand"
            found.key, found.things, found.weak = "come off", list(subject.things), "result"
            found.end = end
            return found
        same = ("same way", "same manner", "same order", "same thing", "same story")
        if any(thing.name.lower().startswith(same) for thing in found.things):
            return None
        known = found.key != found.lemma or found.lemma in _BARE
        if found.lemma in _TAKING:
            down = particle == "down" and found.lemma == "come" and self.phrases.spoken
            fits = particle in _AWAY or (found.lemma in _BARE) or down
        elif found.lemma in _PUTTING:
            fits = particle in _HOME or bool(found.to) or (particle in _OUT and not found.to)
            if fits and particle == "down" and found.lemma == "go":
                if subject.things[-1].category not in ("lock", "clip"):
                    found.key = "go in"
            if fits and particle in _OUT and (not known or found.lemma == "go"):
                found.lemma, found.key, known = "come", f"come {particle}", True
        else:
            fits = particle in _AWAY or particle in _HOME
        if not fits or (found.lemma in ("come", "fall") and not known):
            return None
        if found.lemma == "go" and not known:
            found.key = "go in"
        if found.things and not all(thing.is_pronoun for thing in found.things):
            side = found.from_ if particle in _AWAY and particle != "back" else found.to
            side += [thing for thing in found.things if thing.category != "text"]
        found.things, found.weak, found.end = list(subject.things), "result", end
        return found
