"""The lexicon: data files that say what words mean, and a reader's own words on top of them."""

from lastscrew.reading.lexicon.lexicon import Lexicon, Verb, VerbForm, load_lexicon

__all__ = ["Lexicon", "Verb", "VerbForm", "load_lexicon"]
