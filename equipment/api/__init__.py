"""The API of equipment: what is free, who has what, holds, moves, load lists, alarms. Each write is one use case."""
