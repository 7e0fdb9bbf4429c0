"""Mistakes that learners make again and again: how each is recognised, and what to ask about it.

`catalogue` is the table. A mistake is recognised by what would mend it: the story in which a
requirement fails is run again with the change made, and only if the requirement then holds in
it is the mistake named. The text of a solution plays no part.
"""
