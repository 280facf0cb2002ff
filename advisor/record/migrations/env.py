"""How alembic runs the versions: on the connection that it is handed, in that connection's transaction."""

from alembic import context

connection = context.config.attributes["connection"]
context.configure(connection=connection, transactional_ddl=False)
context.run_migrations()
