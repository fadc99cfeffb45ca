"""From dial readings and events to running hours, shell lives and series."""
