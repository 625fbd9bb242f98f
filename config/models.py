"""No tables. Django announces "migrated" only for apps that have this module, and config's turn comes last."""
