"""``python -m balancer`` is the command ``balancer``."""

from balancer.cli import main

if __name__ == "__main__":
    main()
