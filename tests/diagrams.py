"""Expressions as binary decision diagrams, by the library dd."""

from sympy import And, Not, Or, Symbol, true


def diagram_of(bdd, expression):
    match expression:
        case Symbol():
            return bdd.var(expression.name)
        case Not():
            return ~diagram_of(bdd, expression.args[0])
        case And() | Or():
            found = bdd.true if isinstance(expression, And) else bdd.false
            for argument in expression.args:
                inner = diagram_of(bdd, argument)
                found = found & inner if isinstance(expression, And) else found | inner
            return found
    return bdd.true if expression == true else bdd.false
