"""People: who works at the desk, with which rights, and how they are let in."""
