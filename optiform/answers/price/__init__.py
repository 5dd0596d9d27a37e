"""What does each limit cost, how far may each amount move, and why is a material not in?"""

from optiform.answers.price.why import why

__all__ = ["why"]
