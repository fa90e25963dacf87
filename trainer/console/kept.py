"""The name under which a browser keeps the attempts of whoever practises at it."""

KEPT = "trainer-attempts"
