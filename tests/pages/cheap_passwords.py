"""The command of a person with passwords that cost little to hash: the tests of an office log in a hundred times.

What the program itself spends on a hash is held by the test of accounts made at the machine.
"""

from django.contrib.auth.hashers import Argon2PasswordHasher

Argon2PasswordHasher.time_cost, Argon2PasswordHasher.memory_cost, Argon2PasswordHasher.parallelism = 1, 8, 1

if __name__ == "__main__":
    from overwood.faces.cli.main import main

    main()
