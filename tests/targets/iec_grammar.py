"""Checks a text against the grammar of IEC 61131-3:2013 for data types and global constants.

The productions below restate, from memory, those of the standard's Annex A that such a text needs (their names are
the standard's); they were written down without a look at the writer. Beyond the syntax the checker holds what the
standard demands of constants: a declared type, every named element declared, arrays filled to their bounds, integers
inside the range of their type (table 10), strings no longer than declared.

Usage: iec_grammar.py FILE; silent and 0 when the text conforms, else the first fault and 1.
"""
import re
import sys

# Identifier : a letter or single underscores between letters and digits. Comment, literals: sub-clauses 6.1 to 6.3.
TOKEN = re.compile(r"""
    (?P<space>\s+) | (?P<comment>\(\*.*?\*\))
  | (?P<real>[+-]?[0-9](?:_?[0-9])*\.[0-9](?:_?[0-9])*(?:[eE][+-]?[0-9]+)?)
  | (?P<based>16\#[0-9A-Fa-f](?:_?[0-9A-Fa-f])*)
  | (?P<integer>[+-]?[0-9](?:_?[0-9])*)
  | (?P<string>'(?:\$(?:[$'LNPRTlnprt]|[0-9A-F]{2})|[^$'\x00-\x1f\x7f-\xff])*')
  | (?P<name>[A-Za-z](?:_?[A-Za-z0-9])*)
  | (?P<sign>:=|\.\.|[:;,()\[\]=])
""", re.X | re.S)
KEYWORDS = {"TYPE", "END_TYPE", "STRUCT", "END_STRUCT", "ARRAY", "OF", "VAR_GLOBAL", "CONSTANT", "RETAIN", "END_VAR",
            "TRUE", "FALSE", "STRING", "BOOL", "INT", "DINT", "LINT", "UINT", "UDINT", "DWORD", "WORD", "REAL", "LREAL"}
INTEGERS = {"INT": (-2**15, 2**15 - 1), "DINT": (-2**31, 2**31 - 1), "LINT": (-2**63, 2**63 - 1),
            "UINT": (0, 2**16 - 1), "UDINT": (0, 2**32 - 1)}
BITS = {"WORD": 16, "DWORD": 32}


class Fault(Exception):
    pass


class Checker:
    def __init__(self, text):
        if not text.isascii():
            raise Fault("a character outside ISO/IEC 646")
        self.tokens, self.types, at = [], {}, 0
        while at < len(text):
            found = TOKEN.match(text, at)
            if not found:
                raise Fault(f"line {text.count(chr(10), 0, at) + 1}: no token: {text[at:at + 20]!r}")
            if found.lastgroup not in ("space", "comment"):
                self.tokens.append((found.lastgroup, found.group(), text.count("\n", 0, at) + 1))
            at = found.end()
        self.tokens.append(("end", "", text.count("\n") + 1))
        self.at = 0

    def fault(self, what):
        raise Fault(f"line {self.tokens[self.at][2]}: {what}, not {self.tokens[self.at][1]!r}")

    def take(self, text):
        # Keywords and identifiers are not case-sensitive (6.1.2).
        if self.tokens[self.at][1].upper() != text:
            self.fault(f"`{text}` is needed")
        self.at += 1

    def ahead(self, text):
        return self.tokens[self.at][1].upper() == text

    def kind(self, kind):
        group, text, _ = self.tokens[self.at]
        if group != kind or (kind == "name" and text.upper() in KEYWORDS):
            self.fault(f"a {kind} is needed")
        self.at += 1
        return text

    # Data_Type_Decl : 'TYPE' ( Type_Decl ';' )+ 'END_TYPE'
    # Global_Var_Decls : 'VAR_GLOBAL' ( 'CONSTANT' | 'RETAIN' )? ( Global_Var_Decl ';' )* 'END_VAR'
    def file(self):
        variables = 0
        while self.tokens[self.at][0] != "end":
            if self.ahead("TYPE"):
                self.at += 1
                self.type_decl()
                while not self.ahead("END_TYPE"):
                    self.type_decl()
                self.take("END_TYPE")
            else:
                self.take("VAR_GLOBAL")
                if self.ahead("CONSTANT") or self.ahead("RETAIN"):
                    self.at += 1
                while not self.ahead("END_VAR"):
                    self.variable()
                    variables += 1
                self.take("END_VAR")
        return variables

    # Struct_Type_Decl : Struct_Type_Name ':' Struct_Spec ; Struct_Decl : 'STRUCT' ( Struct_Elem_Decl ';' )+ 'END_STRUCT'
    def type_decl(self):
        name = self.kind("name").upper()
        if name in self.types:
            self.fault(f"{name} is declared twice")
        self.take(":")
        self.take("STRUCT")
        elements = {}
        while not self.ahead("END_STRUCT"):
            element = self.kind("name").upper()
            if element in elements:
                self.fault(f"{element} is declared twice")
            self.take(":")
            elements[element] = self.spec()
            self.take(";")
        if not elements:
            self.fault("a structure has an element")
        self.take("END_STRUCT")
        self.take(";")
        self.types[name] = elements

    # Array_Spec : 'ARRAY' '[' Subrange ( ',' Subrange )* ']' 'OF' Data_Type_Access ; Subrange : Constant_Expr '..' Constant_Expr
    def spec(self):
        if self.ahead("ARRAY"):
            self.at += 1
            self.take("[")
            low = int(self.kind("integer"))
            self.take("..")
            high = int(self.kind("integer"))
            self.take("]")
            self.take("OF")
            if high < low:
                self.fault("a subrange goes up")
            return ("ARRAY", high - low + 1, self.spec())
        group, text, _ = self.tokens[self.at]
        text = text.upper()
        if group != "name":
            self.fault("a type is needed")
        self.at += 1
        if text == "STRING":
            length = 254
            if self.ahead("["):
                self.at += 1
                length = int(self.kind("integer"))
                self.take("]")
            return ("STRING", length)
        if text in INTEGERS or text in BITS or text in ("BOOL", "REAL", "LREAL"):
            return (text,)
        if text not in self.types:
            self.fault(f"{text} is no type that stands above")
        return ("NAMED", text)

    # Global_Var_Decl : Global_Var_Spec ':' ( Loc_Var_Spec_Init | FB_Type_Access ) with … ':=' …_Init
    def variable(self):
        self.kind("name")
        self.take(":")
        spec = self.spec()
        self.take(":=")
        self.init(spec)
        self.take(";")

    # Array_Init : '[' Array_Elem_Init ( ',' Array_Elem_Init )* ']'
    # Struct_Init : '(' Struct_Elem_Init ( ',' Struct_Elem_Init )* ')' ; Struct_Elem_Init : Struct_Elem_Name ':=' …
    def init(self, spec):
        if spec[0] == "ARRAY":
            self.take("[")
            count = 1
            self.init(spec[2])
            while self.ahead(","):
                self.at += 1
                self.init(spec[2])
                count += 1
            if count != spec[1]:
                self.fault(f"{count} values in an array of {spec[1]}")
            return self.take("]")
        if spec[0] == "NAMED":
            self.take("(")
            seen = set()
            while True:
                element = self.kind("name").upper()
                if element not in self.types[spec[1]] or element in seen:
                    self.fault(f"{element} is no element of {spec[1]}, or stands twice")
                seen.add(element)
                self.take(":=")
                self.init(self.types[spec[1]][element])
                if not self.ahead(","):
                    break
                self.at += 1
            return self.take(")")
        self.literal(spec)

    def literal(self, spec):
        name = spec[0]
        if name == "BOOL":
            if not (self.ahead("TRUE") or self.ahead("FALSE")):
                self.fault("TRUE or FALSE is needed")
            self.at += 1
        elif name in ("REAL", "LREAL"):
            self.kind("real")
        elif name == "STRING":
            text = self.kind("string")[1:-1]
            if len(re.sub(r"\$([0-9A-F]{2}|.)", "x", text)) > spec[1]:
                self.fault(f"a string longer than {spec[1]}")
        elif name in INTEGERS:
            value = int(self.kind("integer").replace("_", ""))
            if not INTEGERS[name][0] <= value <= INTEGERS[name][1]:
                self.fault(f"{value} is no {name}")
        else:
            if int(self.kind("based")[3:].replace("_", ""), 16) >> BITS[name]:
                self.fault(f"too many bits for {name}")


if __name__ == "__main__":
    try:
        with open(sys.argv[1], encoding="latin-1", newline="") as file:
            if Checker(file.read()).file() == 0:
                raise Fault("no constant")
    except Fault as fault:
        print(fault)
        sys.exit(1)
