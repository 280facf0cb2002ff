"""Signatures by walk: whether a walk is signed is asked of its events before each addition."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the index."""
    signed = sa.text("kind = 'signed'")
    op.create_index("ix_event_signed", "event", ["walk"], sqlite_where=signed, postgresql_where=signed)
