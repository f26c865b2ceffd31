"""What to do where and when across a property: columns from the futures, limits of the owner, a plan, its checks and
its judgement."""
