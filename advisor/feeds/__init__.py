"""Reports from sources that the operator names: the only room below the commands that opens sockets."""
