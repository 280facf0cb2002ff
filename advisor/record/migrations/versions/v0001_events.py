"""Events, the head, walks and the answers that idempotency keys were given."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    number = sa.BigInteger().with_variant(sa.Integer, "sqlite")
    op.create_table(
        "event",
        sa.Column("seq", number, primary_key=True, autoincrement=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("kind", sa.String(32), nullable=False),
        sa.Column("walk", sa.String(64)),
        sa.Column("data", sa.Text),
        sa.Column("previous", sa.String(64), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
    )
    op.create_index("ix_event_walk", "event", ["walk"])
    op.create_table(
        "head",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("seq", sa.BigInteger, nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
    )
    op.execute(f"INSERT INTO head (id, seq, at, hash) VALUES (1, 0, '', '{'0' * 64}')")
    op.create_table(
        "walk",
        sa.Column("id", sa.String(64), primary_key=True),
        sa.Column("opened_seq", sa.BigInteger, nullable=False),
        sa.Column("opened_at", sa.String(32), nullable=False),
        sa.Column("brief", sa.String(64), nullable=False),
        sa.Column("aircraft", sa.String(80), nullable=False),
        sa.Column("registration", sa.String(80)),
        sa.Column("station", sa.String(80)),
        sa.Column("off_block", sa.String(32), nullable=False),
        sa.Column("signed_seq", sa.BigInteger),
    )
    op.create_index("ix_walk_opened_at", "walk", ["opened_at"])
    op.create_table(
        "answer",
        sa.Column("key", sa.String(64), primary_key=True),
        sa.Column("body", sa.String(64), nullable=False),
        sa.Column("seq", sa.BigInteger, nullable=False),
    )
