"""What a session is compared with: the document that was measured."""

from __future__ import annotations

import hashlib

from wellheard.workflow.sessions import measured_of


def test_a_session_is_of_the_document_whose_hash_it_begins() -> None:
    text = "wellheard: 1\n"
    digest = hashlib.sha256(text.encode()).hexdigest()
    for said in (digest, digest[:8], f"{digest[:4]}-{digest[4:8]}", digest[:5].upper(), ""):
        assert measured_of(text, said)
    assert not measured_of(f"{text}title: Another\n", digest[:8])
