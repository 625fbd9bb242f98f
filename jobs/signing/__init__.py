"""Signatures: who may sign what in which state is data; what was signed stays."""
