"""The evidence pack: what a forecast of one engine rests on, as a bag that can be worked out again."""
