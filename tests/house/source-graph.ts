import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative, sep } from 'node:path';
import { fileURLToPath } from 'node:url';
import ts from 'typescript';

/** The project's folder. */
export const ROOT = fileURLToPath(new URL('../../', import.meta.url));

/** What one file takes from another: names, or '*' where all of it may be used. */
interface Import {
  readonly from: string;
  readonly names: readonly string[];
}

interface OneFunction {
  readonly name: string;
  /** Without the functions inside it. */
  readonly lines: number;
}

export interface SourceFile {
  readonly imports: readonly Import[];
  /** Packages and modules of Node. */
  readonly packages: readonly string[];
  readonly exports: readonly string[];
  /** Those of them that are types only. */
  readonly types: ReadonlySet<string>;
  /** Names that occur outside the place where they are declared. */
  readonly usedInside: ReadonlySet<string>;
  /** Names of the environment that are used, such as `process` and `console`. */
  readonly globals: ReadonlySet<string>;
  readonly functions: readonly OneFunction[];
}

const GLOBALS = new Set(['process', 'console', 'setTimeout', 'setInterval', 'performance', 'fetch']);

/** All TypeScript files below some folders, by their paths from the root with slashes. */
export function readSources(folders: readonly string[]): Map<string, SourceFile> {
  const files = new Map<string, SourceFile>();
  for (const folder of folders) {
    for (const name of readdirSync(ROOT + folder, { recursive: true, encoding: 'utf8' })) {
      if (!name.endsWith('.ts') || name.includes('fixtures')) continue;
      const path = join(folder, name).split(sep).join('/');
      files.set(path, read(path, readFileSync(ROOT + path, 'utf8')));
    }
  }
  return files;
}

function read(path: string, text: string): SourceFile {
  const source = ts.createSourceFile(path, text, ts.ScriptTarget.Latest, true);
  const imports: Import[] = [];
  const packages: string[] = [];
  const exports: string[] = [];
  const types = new Set<string>();
  const usedInside = new Set<string>();
  const globals = new Set<string>();
  const functions: OneFunction[] = [];

  const take = (specifier: ts.Node, names: readonly string[]): void => {
    if (!ts.isStringLiteralLike(specifier)) return;
    if (!specifier.text.startsWith('.')) packages.push(specifier.text);
    else {
      const target = relative(ROOT, join(ROOT, dirname(path), specifier.text));
      imports.push({ from: target.split(sep).join('/').replace(/\.js$/, '.ts'), names });
    }
  };

  const lineOf = (at: number): number => source.getLineAndCharacterOfPosition(at).line;
  /** Lines of the functions inside the one that is looked at. */
  let inner = 0;
  const visit = (node: ts.Node): void => {
    if (ts.isImportDeclaration(node)) {
      take(node.moduleSpecifier, namesOfImport(node));
      return;
    }
    if (ts.isExportDeclaration(node)) {
      const clause = node.exportClause;
      const named = clause && ts.isNamedExports(clause) ? clause.elements : [];
      if (node.moduleSpecifier) {
        take(node.moduleSpecifier, named.length > 0 ? named.map((e) => (e.propertyName ?? e.name).text) : ['*']);
      } else for (const { name } of named) exports.push(name.text);
      return;
    }
    if (ts.isCallExpression(node) && node.expression.kind === ts.SyntaxKind.ImportKeyword) {
      take(node.arguments[0], namesOfDynamic(node));
    } else if (ts.isImportTypeNode(node) && ts.isLiteralTypeNode(node.argument)) {
      take(node.argument.literal, node.qualifier ? [node.qualifier.getText().split('.')[0]] : ['*']);
    } else if (ts.isNewExpression(node) && node.expression.getText() === 'URL' && node.arguments?.length === 2) {
      // A file that a thread is started with.
      take(node.arguments[0], ['*']);
    }
    if (isExported(node)) {
      exports.push(...declaredNames(node));
      if (ts.isInterfaceDeclaration(node) || ts.isTypeAliasDeclaration(node)) types.add(node.name.text);
    }
    if (ts.isIdentifier(node)) {
      if (!isDeclaration(node)) usedInside.add(node.text);
      if (GLOBALS.has(node.text) && isFree(node)) globals.add(node.text);
    }
    if (!(ts.isFunctionLike(node) && 'body' in node && node.body)) return void ts.forEachChild(node, visit);
    const around = inner;
    inner = 0;
    ts.forEachChild(node, visit);
    const lines = lineOf(node.getEnd()) - lineOf(node.getStart()) + 1;
    functions.push({ name: nameOf(node), lines: lines - inner });
    inner = around + (lines > 1 ? lines : 0);
  };
  ts.forEachChild(source, visit);
  return { imports, packages, exports, types, usedInside, globals, functions };
}

function namesOfImport({ importClause }: ts.ImportDeclaration): string[] {
  if (!importClause) return [];
  const { name, namedBindings } = importClause;
  const own = name ? ['default'] : [];
  if (!namedBindings) return own;
  if (ts.isNamespaceImport(namedBindings)) return [...own, '*'];
  return [...own, ...namedBindings.elements.map((each) => (each.propertyName ?? each.name).text)];
}

/** Names in `const { a } = await import(…)` and `(await import(…)).a`; all where it is used in another way. */
function namesOfDynamic(call: ts.CallExpression): string[] {
  let node: ts.Node = call;
  while (ts.isAwaitExpression(node.parent) || ts.isParenthesizedExpression(node.parent)) node = node.parent;
  const { parent } = node;
  if (ts.isPropertyAccessExpression(parent) && node !== call) return [parent.name.text];
  if (ts.isVariableDeclaration(parent) && ts.isObjectBindingPattern(parent.name)) {
    return parent.name.elements.map((each) => (each.propertyName ?? each.name).getText());
  }
  return ['*'];
}

const isExported = (node: ts.Node): boolean =>
  ts.canHaveModifiers(node) &&
  (ts.getModifiers(node)?.some(({ kind }) => kind === ts.SyntaxKind.ExportKeyword) ?? false);

function declaredNames(node: ts.Node): string[] {
  if (ts.canHaveModifiers(node) && ts.getModifiers(node)?.some(({ kind }) => kind === ts.SyntaxKind.DefaultKeyword)) {
    return ['default'];
  }
  if (ts.isVariableStatement(node)) {
    return node.declarationList.declarations.flatMap(({ name }) =>
      ts.isIdentifier(name) ? [name.text] : name.elements.flatMap((e) => ('name' in e ? [e.name.getText()] : [])),
    );
  }
  const { name } = node as ts.Node & { name?: ts.Identifier };
  return [name?.text ?? 'default'];
}

const isDeclaration = (node: ts.Identifier): boolean => (node.parent as ts.Node & { name?: ts.Node }).name === node;

/** Not the name of a member, a key or a type. */
const isFree = (node: ts.Identifier): boolean =>
  !isDeclaration(node) && !ts.isTypeReferenceNode(node.parent) && !ts.isImportSpecifier(node.parent);

function nameOf(node: ts.Node): string {
  for (let at: ts.Node | undefined = node; at; at = at.parent) {
    const { name } = at as ts.Node & { name?: ts.Node };
    if (name && (ts.isIdentifier(name) || ts.isPrivateIdentifier(name) || ts.isStringLiteral(name))) return name.text;
  }
  return 'default';
}
