"""The command line: `fdm COMMAND FILE.toml NAME=NUMBER ... --options`.

    main      parse the words, run the command, turn faults into one line and an exit code
    start, solve, check, cabinet, network, study, fit, film, materials
              a file for each command: `add_to` says which words it takes, `run` does it, and returns a sentence
              where the answers failed their checks, or no design of a study is what was asked for
    words     words that several commands take;  console, uncertain, places: what several commands print

Exit codes: 0 good, 1 the input is at fault, 2 wrong usage, 3 the answers failed their own checks, or no design of a
study is what was asked for, 130 stopped by ^C, 143 by SIGTERM. A target that is merely missed, and said to be, is good.
Answers go to standard output; progress, warnings and faults go to standard error. A command imports nothing heavy until
it runs, so that help comes at once.
"""
