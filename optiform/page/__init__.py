"""The folder of one's work as local pages: briefs, answers, batches and the library, without a terminal.

Handlers answer addresses, `folder` reads and writes, `asking` has questions answered by other processes, `guard` lets
nobody else in. No arithmetic stands here: every figure comes from a question and is told by the views.
"""
