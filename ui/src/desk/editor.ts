// editor: the text of a bulletin with line numbers, search, undo, and its faults at their lines. Fetched only when a draft is opened. It stands in a
// shadow tree: there the library's styles go into constructed sheets, which the content policy allows.
import { yaml } from '@codemirror/lang-yaml';
import { HighlightStyle, ensureSyntaxTree, syntaxHighlighting } from '@codemirror/language';
import { Diagnostic, lintGutter, setDiagnostics } from '@codemirror/lint';
import { EditorState } from '@codemirror/state';
import { EditorView } from '@codemirror/view';
import { tags } from '@lezer/highlight';
import { basicSetup } from 'codemirror';
import type { Fault } from './draft';

export interface Editor {
    text(): string;
    setText(text: string): void;
    show(faults: readonly Fault[], warnings: readonly Fault[]): void;
    /** The cursor to a place, counted from 1, and the focus with it. */
    goTo(line: number, column: number): void;
    end(): void;
}

const LOOKS = EditorView.theme({
    '&': { height: '100%', backgroundColor: 'var(--sheet)', color: 'var(--ink)', fontSize: '0.8125rem' },
    '.cm-scroller': { fontFamily: '"DejaVu Sans Mono", ui-monospace, monospace', lineHeight: '1.5' },
    '.cm-content': { caretColor: 'var(--ink)' },
    '&.cm-focused': { outline: '3px solid var(--act)', outlineOffset: '2px' },
    '.cm-gutters': { backgroundColor: 'var(--paper)', color: 'var(--soft)', border: '0', borderRight: '1px solid var(--rule)' },
    '.cm-activeLine, .cm-activeLineGutter': { backgroundColor: 'color-mix(in srgb, var(--band) 35%, transparent)' },
    '&.cm-focused .cm-selectionBackground, .cm-selectionBackground': { backgroundColor: 'var(--band) !important' },
    '.cm-cursor': { borderLeftColor: 'var(--ink)' },
    '.cm-panels': { backgroundColor: 'var(--paper)', color: 'var(--ink)' },
    '.cm-tooltip': { backgroundColor: 'var(--sheet)', color: 'var(--ink)', border: '1px solid var(--rule)' },
    // The library draws both of these as pictures from data: addresses, which the content policy refuses.
    '.cm-lint-marker': { width: '1em', height: '1em' },
    '.cm-lint-marker-error': { content: 'normal', color: 'var(--stop)' },
    '.cm-lint-marker-error::before': { content: '"\\25B6"' },
    '.cm-lint-marker-warning': { content: 'normal', color: 'var(--ink)' },
    '.cm-lint-marker-warning::before': { content: '"\\25B7"' },
    '.cm-lintRange-error': { backgroundImage: 'none', textDecoration: 'underline wavy var(--stop)' },
    '.cm-lintRange-warning': { backgroundImage: 'none', textDecoration: 'underline dotted var(--ink)' },
    '.cm-searchMatch': { backgroundColor: 'var(--band)' },
    '.cm-foldPlaceholder': { backgroundColor: 'var(--paper)', color: 'var(--soft)', border: '1px solid var(--rule)' },
});

type SyntaxNode = NonNullable<ReturnType<typeof ensureSyntaxTree>>['topNode'];
const PARSE_MS = 50, AGAIN_MS = 20;
const TONES = HighlightStyle.define([
    { tag: [tags.propertyName, tags.definition(tags.propertyName)], color: 'var(--act)' },
    { tag: tags.comment, color: 'var(--soft)', fontStyle: 'italic' },
    { tag: [tags.string, tags.content, tags.punctuation, tags.separator, tags.keyword, tags.meta, tags.typeName], color: 'var(--ink)' },
]);

/** The keys that lead to a place, as the reference writes them: "kits[].pays[].for"; '' outside of every key; and which item of the outermost list, from
 * 0; -1 outside of every list. null: the reader of the text has not come so far yet; each call brings it on. */
function pathAt(state: EditorState): [string, number] | null {
    const head = state.selection.main.head, row = state.doc.lineAt(head), first = row.from + (/^[\s-]*/.exec(row.text)?.[0].length ?? 0);
    const at = Math.min(Math.max(head, first), row.to), keys: string[] = [], tree = ensureSyntaxTree(state, at, PARSE_MS);
    if (tree === null) return null;
    let item = -1;
    // On the last character of a line the tree's node ends there too.
    for (let node: SyntaxNode | null = tree.resolveInner(at, at === row.to ? -1 : 1); node !== null; node = node.parent) {
        if (node.name === 'Pair') {
            const key = node.getChild('Key');
            if (key !== null) keys.unshift(state.sliceDoc(key.from, key.to).trim());
        } else if (node.name === 'Item') {
            item = 0; // the outermost one is the last that is met
            for (let before = node.prevSibling; before !== null; before = before.prevSibling) if (before.name === 'Item') item++;
        } else if ((node.name === 'BlockSequence' || node.name === 'FlowSequence') && node.parent !== null) keys.unshift('[]');
    }
    return [keys.join('.').replaceAll('.[]', '[]'), item];
}

/** `label`: what the field is called. `changed` is called after each change by hand, `moved` with the keys at the cursor when they may be others. */
export function edit(at: HTMLElement, text: string, label: string, changed: () => void, moved: (path: string, item: number) => void): Editor {
    const root = at.shadowRoot ?? at.attachShadow({ mode: 'open' });
    // The library reads in slices and gives up when they have cost it too much: on a slow machine the cursor would never be known. So it is
    // asked until it is.
    let later = 0;
    const follow = (): void => {
        clearTimeout(later);
        const place = pathAt(view.state);
        if (place === null) later = window.setTimeout(follow, AGAIN_MS); else moved(...place);
    };
    const state = (content: string): EditorState => EditorState.create({
        doc: content,
        extensions: [
            basicSetup, yaml(), lintGutter(), LOOKS, syntaxHighlighting(TONES), EditorState.tabSize.of(2),
            EditorView.contentAttributes.of({ 'aria-label': label, tabindex: '0', spellcheck: 'false', autocapitalize: 'off' }),
            EditorView.updateListener.of((u) => { if (u.docChanged) changed(); if (u.docChanged || u.selectionSet) follow(); }),
        ],
    });
    const view = new EditorView({ state: state(text), parent: root, root });
    const place = (line: number, column: number): number => {
        const row = view.state.doc.line(Math.max(1, Math.min(line, view.state.doc.lines)));
        return Math.min(row.from + Math.max(0, column - 1), row.to);
    };
    const note = (f: Fault, severity: 'error' | 'warning'): Diagnostic => {
        const from = place(f.line, f.column), row = view.state.doc.lineAt(from);
        return { from, to: Math.max(from, row.to), severity, message: f.path === '' ? f.message : `${f.path}: ${f.message}` };
    };
    return {
        text: () => view.state.doc.toString(),
        setText: (content) => { view.setState(state(content)); follow(); },
        show: (faults, warnings) => view.dispatch(setDiagnostics(view.state, [...faults.map((f) => note(f, 'error')), ...warnings.map((f) => note(f, 'warning'))].sort((a, b) => a.from - b.from))),
        goTo: (line, column) => {
            const at = place(line, column);
            view.dispatch({ selection: { anchor: at }, effects: EditorView.scrollIntoView(at, { y: 'center' }) });
            view.focus();
        },
        end: () => { clearTimeout(later); view.destroy(); },
    };
}
