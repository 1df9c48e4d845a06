"""The memetic search of one start: a population of packings, operators and local solves.

In: a `SearchGoal` and a stream of random numbers. Out: a `Run`, whose best is the packing.

    for each epoch                                       (P. Moscato, Caltech report 826, 1989)
        population := local optima of start points: fresh ones, or those that survive a
            population evolved under a quadratic penalty alone
        until so many offspring in a row bring no better best
            propose many offspring: mutation, subtree crossover, cut-and-splice crossover
            leave out duplicates of known packings
            relax the rest under the penalty; keep those with the least
            solve them; each may take its parent's place, or the worst's
        elite := elite and the best of the population
    last epoch: the same, with the elite as its population
"""
